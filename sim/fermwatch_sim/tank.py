"""One fermenter of the invented cellar: its beer, its jacket and heating belt, and the sensors in it."""

import random
from dataclasses import dataclass
from datetime import datetime

from fermwatch.model.batch import Batch
from fermwatch_sim.fermentation import Brew, Fermentation, Strain
from fermwatch_sim.scenario import FermenterPart
from fermwatch_sim.sensors import Sensor, What
from fermwatch_sim.thermal import BEER_HEAT_J_PER_KG_K, step_beer

_BUCKET_HEAT_J_PER_K = 3_000.0
_BELT_W = 30.0
_BELT_DEADBAND_C = 0.2
_LIVELY_CO2_G_PER_H_AND_KG = 1.0  # full kräusen, for the foam under a float


@dataclass(frozen=True, slots=True)
class Truth:
    """What really is in a fermenter, which no probe says exactly."""

    beer_c: float
    gravity_sg: float
    attenuation: float
    suspended: float
    heat_w: float
    co2_g_per_h: float
    abv_pct: float


@dataclass(slots=True)
class Tank:
    """One fermenter with its beer."""

    part: FermenterPart
    batch: Batch
    fermentation: Fermentation
    brew: Brew
    beer_c: float
    jacket: float
    sensors: dict[What, Sensor]
    belt_c: float | None = None
    belt_until: datetime | None = None
    belt_on: bool = False

    @classmethod
    def of(cls, part: FermenterPart, batch: Batch, seed: int) -> "Tank":
        told = part.batch
        strain = Strain.of(batch.yeast, attenuation=told.attenuation, vigour=told.vigour, lag_h=told.lag_h)
        fermentation = Fermentation.of(batch.original_sg, batch.volume_l, strain)
        return cls(
            part=part,
            batch=batch,
            fermentation=fermentation,
            brew=fermentation.begin(),
            beer_c=told.pitch_c,
            jacket=part.jacket,
            sensors={
                probe.what: Sensor(
                    unit=probe.unit,
                    every_s=probe.interval_s,
                    flaws=probe.flaws,
                    chance=random.Random(f"{seed}:{part.probe_slug(probe.what)}"),
                    installed_at=batch.pitched_at,
                )
                for probe in part.probes
            },
        )

    @property
    def ua_w_per_k(self) -> float:
        return self.part.ua_w_per_k * self.jacket

    def step(self, now: datetime, air_c: float, dt_s: float) -> None:
        self.brew = self.fermentation.step(self.brew, self.beer_c, dt_s)
        self.beer_c = step_beer(
            self.beer_c,
            surroundings_c=air_c,
            ua_w_per_k=self.ua_w_per_k,
            heat_w=self.fermentation.heat_w(self.brew) + self._belt_w(now),
            heat_j_per_k=self.fermentation.mass_kg * BEER_HEAT_J_PER_KG_K + _BUCKET_HEAT_J_PER_K,
            dt_s=dt_s,
        )

    def _belt_w(self, now: datetime) -> float:
        if self.belt_c is None or self.belt_until is None or now >= self.belt_until:
            self.belt_c, self.belt_on = None, False
            return 0.0
        edge = self.belt_c + (_BELT_DEADBAND_C if self.belt_on else -_BELT_DEADBAND_C)
        self.belt_on = self.beer_c < edge
        return _BELT_W if self.belt_on else 0.0

    @property
    def liveliness(self) -> float:
        """Of the foam, 0..1."""
        per_kg = self.fermentation.co2_g_per_h(self.brew) / self.fermentation.mass_kg
        return min(per_kg / _LIVELY_CO2_G_PER_H_AND_KG, 1.0)

    @property
    def truth(self) -> Truth:
        fermentation, brew = self.fermentation, self.brew
        return Truth(
            beer_c=self.beer_c,
            gravity_sg=fermentation.gravity_sg(brew),
            attenuation=fermentation.attenuation(brew),
            suspended=brew.suspended,
            heat_w=fermentation.heat_w(brew),
            co2_g_per_h=fermentation.co2_g_per_h(brew),
            abv_pct=fermentation.abv_pct(brew),
        )
