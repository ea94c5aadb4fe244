"""The invented cellar at work: advances in steps of a minute, and says what its probes said and what people did.

The same scenario, start and seed say the same to the last digit. Nothing here sends anything: wires do.
"""

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.clock import to_ms
from fermwatch.ids import RANDOM_BYTES, new_ulid
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, PackageChoice
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Unit
from fermwatch_sim.fermentation import roused
from fermwatch_sim.scenario import Act, ActKind, FermenterPart, PackagedPart, Scenario
from fermwatch_sim.sensors import Fault, Sensor, What
from fermwatch_sim.tank import Tank, Truth
from fermwatch_sim.thermal import Air, AirController, Body, step_air
from fermwatch_sim.virtual_controller import VirtualController

STEP = timedelta(seconds=60)
_HISTORY_INTERVAL_S = 300.0  # what lies before the start is kept coarser
_HAND_SD_SG = 0.0004
_HYDROMETER_STEPS_PER_SG = 1000


@dataclass(frozen=True, slots=True)
class ProbeValue:
    """What a probe said, in its own unit."""

    at: datetime
    probe: str
    value: float
    unit: Unit


@dataclass(frozen=True, slots=True)
class Written:
    """What somebody wrote down of a batch."""

    batch: str
    written: GravityMeasurement | Event


@dataclass(frozen=True, slots=True)
class Passage:
    """What happened until `now`, in order of time."""

    now: datetime
    samples: tuple[ProbeValue, ...]
    entries: tuple[Written, ...]


@dataclass(frozen=True, slots=True)
class PackagedBeer:
    """A beer as it was pitched, and what was written down of it until it was in its bottles."""

    batch: Batch
    entries: tuple[Written, ...]


class Cellar:
    """A scenario that begins at `start`; its history lies before."""

    def __init__(self, scenario: Scenario, *, start: datetime, seed: int = 1) -> None:
        self.scenario = scenario
        self.start = start
        self.now = self._instant(scenario.begins_h)
        self._seed = seed
        self._chance = random.Random(f"{seed}:people")
        self.controller = VirtualController(regulator=AirController(scenario.set_point_c), belt=False)
        self._lead = scenario.lead
        self._air = Air(scenario.set_point_c, scenario.set_point_c)
        self._door_until = self.now
        self._acts = list(scenario.acts)
        self._tanks = {part.slug: self._tank(part) for part in scenario.fermenters}

    @property
    def ends(self) -> datetime:
        """When every story of the scenario is told."""
        return self._instant(self.scenario.length_h)

    @property
    def batches(self) -> tuple[Batch, ...]:
        return tuple(tank.batch for tank in self._tanks.values())

    @property
    def packaged(self) -> tuple[PackagedBeer, ...]:
        """What had left its fermenter before the story began."""
        return tuple(self._packaged(part) for part in self.scenario.packaged)

    def truth(self, vessel: str) -> Truth:
        return self._tanks[vessel].truth

    @property
    def air_c(self) -> float:
        return self._air.air_c

    @property
    def compressor_runs(self) -> bool:
        return Output.COOL in self.controller.on(self.now_s)

    @property
    def now_s(self) -> float:
        """On a clock that is never set."""
        return self.now.timestamp()

    def history(self) -> Passage:
        """Everything from the first pitch to the start; later instants are `advance`'s."""
        return self.advance(self.start)

    def advance(self, to: datetime) -> Passage:
        """Let time pass until the last whole step not after `to`."""
        samples: list[ProbeValue] = []
        entries: list[Written] = []
        while self.now + STEP <= to:
            self.now += STEP
            entries.extend(self._happen())
            self._step(STEP.total_seconds())
            samples.extend(self._said())
        return Passage(self.now, tuple(samples), tuple(entries))

    def _step(self, dt_s: float) -> None:
        pitched = [tank for tank in self._tanks.values() if self.now > tank.batch.pitched_at]
        lead = self._tanks[self._lead]
        on = self.controller.step(self.now_s, air_c=self._air.air_c, beer_c=lead.beer_c, dt_s=dt_s)
        self._air = step_air(
            self.scenario.cabinet,
            self._air,
            [Body(tank.beer_c, tank.ua_w_per_k) for tank in pitched],
            room_c=self.scenario.room.temperature_c(self.now),
            cooling=Output.COOL in on,
            door_open=self.now < self._door_until,
            dt_s=dt_s,
        )
        for tank in pitched:
            tank.step(self.now, self._air.air_c, dt_s)
            self._feel(tank, dt_s)

    def _feel(self, tank: Tank, dt_s: float) -> None:
        for what, sensor in tank.sensors.items():
            match what:
                case What.BEER:
                    sensor.follow(tank.beer_c, dt_s)
                case What.AIR:
                    sensor.follow(self._air.air_c, dt_s)
                case What.GRAVITY:
                    if self._is_due(sensor):
                        sensor.follow(tank.fermentation.gravity_sg(tank.brew), dt_s)
                case What.SET_POINT:
                    sensor.follow(tank.belt_c or self.controller.set_point_c, dt_s)
                case What.COMPRESSOR:
                    sensor.follow(float(self.compressor_runs), dt_s)

    def _said(self) -> Iterable[ProbeValue]:
        for tank in self._tanks.values():
            for what, sensor in tank.sensors.items():
                if sensor.felt is None or not self._is_due(sensor):
                    continue
                value = sensor.read(self.now, liveliness=tank.liveliness)
                if value is not None:
                    yield ProbeValue(self.now, tank.part.probe_slug(what), value, sensor.unit)

    def _happen(self) -> Iterable[Written]:
        while self._acts and self._instant(self._acts[0].at_h) <= self.now:
            act = self._acts.pop(0)
            self._do(act)
            if act.kind is ActKind.HYDROMETER:
                yield self._measured(self._tanks[act.fermenter])
            elif act.text and act.fermenter:
                yield self._noted(self._tanks[act.fermenter], act.text)

    def _do(self, act: Act) -> None:
        until = self.now + timedelta(hours=act.hours)
        if act.kind is ActKind.DOOR:
            self._door_until = until
            return
        tank = self._tanks[act.fermenter]
        match act.kind:
            case ActKind.SET_POINT:
                self._lead = act.fermenter
                self.controller.regulator = replace(self.controller.regulator, set_point_c=act.value)
            case ActKind.JACKET:
                tank.jacket = act.value
            case ActKind.BELT:
                tank.belt_c, tank.belt_until = act.value, until
            case ActKind.ROUSE:
                tank.brew = roused(tank.brew)
            case ActKind.FAULT if act.probe is not None and act.fault is not None:
                tank.sensors[act.probe].faults.append(Fault(act.fault, until, act.value))
            case _:
                pass

    def _measured(self, tank: Tank) -> Written:
        steps = _HYDROMETER_STEPS_PER_SG
        truth = tank.fermentation.gravity_sg(tank.brew) + self._chance.gauss(0.0, _HAND_SD_SG)
        read = round(truth * steps) / steps
        return Written(
            tank.batch.id,
            GravityMeasurement(self._ulid(), self.now, gravity_sg=read, reading=read, sample_temperature_c=20.0),
        )

    def _noted(self, tank: Tank, text: str) -> Written:
        return Written(tank.batch.id, Event(self._ulid(), self.now, EventKind.NOTE, text=text))

    def _is_due(self, sensor: Sensor) -> bool:
        history = self.now <= self.start
        return sensor.is_due(self.now, STEP.total_seconds(), at_least_s=_HISTORY_INTERVAL_S if history else 0.0)

    def _tank(self, part: FermenterPart) -> Tank:
        told = part.batch
        pitched_at = self._instant(told.pitched_h)
        batch = Batch(
            id=self._ulid(pitched_at),
            name=told.name,
            vessel=part.slug,
            original_sg=told.original_sg,
            pitched_at=pitched_at,
            volume_l=told.volume_l,
            yeast=told.yeast,
            fermenter_volume_l=part.volume_l,
        )
        return Tank.of(part, batch, self._seed)

    def _packaged(self, part: PackagedPart) -> PackagedBeer:
        chance = random.Random(f"{self._seed}:{part.name}")  # apart, so that no other story changes by it
        choice = PackageChoice(part.package, part.volumes, part.storage_c)
        pitched_at, packaged_at = self._instant(part.pitched_h), self._instant(part.packaged_h)
        data: dict[str, float | str | bool] = {
            "package": part.package,
            "volumes": part.volumes,
            "sugar": "sucrose",
            "sugar_g_per_l": part.sugar_g_per_l,
            "volume_l": part.volume_l,
            "conditioning_c": part.conditioning_c,
            "storage_c": part.storage_c,
            "declared_safe": True,
        }

        def identity(at: datetime) -> str:
            return new_ulid(to_ms(at), chance.randbytes(RANDOM_BYTES))

        batch = Batch(
            id=identity(pitched_at),
            name=part.name,
            vessel=part.fermenter,
            original_sg=part.original_sg,
            pitched_at=pitched_at,
            volume_l=part.volume_l,
            yeast=part.yeast,
            package=choice,
        )
        at = [(self._instant(hour), read_sg) for hour, read_sg in part.readings]
        entries = [
            Written(
                batch.id, GravityMeasurement(identity(then), then, read_sg, reading=read_sg, sample_temperature_c=20.0)
            )
            for then, read_sg in at
        ]
        filled = Event(identity(packaged_at), packaged_at, EventKind.PACKAGED, data)
        return PackagedBeer(batch, (*entries, Written(batch.id, filled)))

    def _ulid(self, at: datetime | None = None) -> str:
        return new_ulid(to_ms(at or self.now), self._chance.randbytes(RANDOM_BYTES))

    def _instant(self, hours: float) -> datetime:
        return self.start + timedelta(hours=hours)
