"""A fridge with one fermenter and a heating belt in it, as a controller finds it. Pure but for its memory."""

from dataclasses import dataclass, field

from fermwatch.model.degree import Output
from fermwatch_sim.thermal import BEER_HEAT_J_PER_KG_K, Air, Body, Cabinet, step_air, step_beer


@dataclass(slots=True)
class Fridge:
    """volume_l: of beer. ua_w_per_k: from beer to air. heat_w: of fermentation. belt_w: of the belt where it is on."""

    beer_c: float
    air: Air
    volume_l: float = 20.0
    ua_w_per_k: float = 1.8
    heat_w: float = 0.0
    belt_w: float = 30.0
    room_c: float = 21.0
    door_open: bool = False
    cabinet: Cabinet = field(default_factory=Cabinet)

    @classmethod
    def at(cls, celsius: float) -> "Fridge":
        """In balance at one temperature."""
        return cls(celsius, Air(celsius, celsius))

    def step(self, on: frozenset[Output], dt_s: float) -> None:
        """Let `dt_s` seconds pass, at most a minute, with these outputs on."""
        body = Body(self.beer_c, self.ua_w_per_k)
        self.air = step_air(
            self.cabinet,
            self.air,
            [body],
            room_c=self.room_c,
            cooling=Output.COOL in on,
            door_open=self.door_open,
            dt_s=dt_s,
        )
        self.beer_c = step_beer(
            self.beer_c,
            surroundings_c=self.air.air_c,
            ua_w_per_k=self.ua_w_per_k,
            heat_w=self.heat_w + (self.belt_w if Output.HEAT in on else 0.0),
            heat_j_per_k=self.volume_l * BEER_HEAT_J_PER_KG_K,  # of a litre as of a kilogram
            dt_s=dt_s,
        )
