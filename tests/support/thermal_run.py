"""A controller beside the thermal model: the same plant, the same guard, whoever wishes."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from fermwatch.control.interlock import Outputs, Times, permit
from fermwatch.control.thermostat import Felt, Thermostat, wish
from fermwatch.model.degree import Output
from fermwatch_sim.fridge import Fridge

DT_S = 30.0
HOUR, DAY = 3600.0, 86_400.0
NEAR_C = 0.3

Wish = Callable[[Felt], frozenset[Output]]


@dataclass
class Ours:
    """The thermostat, with a probe in the air or without."""

    sees_air: bool = True
    state: Thermostat = field(default_factory=Thermostat)

    def __call__(self, felt: Felt) -> frozenset[Output]:
        seen = felt if self.sees_air else Felt(felt.target_c, felt.beer_c, None, felt.on, felt.now_s)
        self.state, wished = wish(self.state, seen)
        return wished


@dataclass
class Plain:
    """What is compared with: hysteresis of 0.5 °C on both sides of the target, on the beer's probe."""

    band_c: float = 0.5

    def __call__(self, felt: Felt) -> frozenset[Output]:
        over_c = felt.beer_c - felt.target_c
        if over_c > self.band_c or (Output.COOL in felt.on and over_c > 0.0):
            return frozenset({Output.COOL})
        if over_c < -self.band_c or (Output.HEAT in felt.on and over_c < 0.0):
            return frozenset({Output.HEAT})
        return frozenset()


@dataclass(frozen=True, slots=True)
class Plant:
    """volume_l; ua_w_per_k: insulated 0.9 for 20 L, bare 1.8; room_c: its mean over the day, swinging by 2 °C."""

    volume_l: float = 20.0
    ua_w_per_k: float = 1.8
    room_c: float = 24.0
    heat_w: Callable[[float], float] = lambda _: 0.0
    target_c: Callable[[float], float] = lambda _: 18.0
    begins_c: float = 18.0

    def fridge(self) -> Fridge:
        made = Fridge.at(self.begins_c)
        made.volume_l, made.ua_w_per_k = self.volume_l, self.ua_w_per_k * (self.volume_l / 20.0) ** (2 / 3)
        return made


@dataclass(frozen=True, slots=True)
class Ran:
    """By time in seconds since the begin: beer and target; and when the compressor started."""

    at_s: list[float]
    beer_c: list[float]
    target_c: list[float]
    starts_s: list[float]

    def over_c(self, from_s: float) -> list[float]:
        """How far above the target it was, from then on."""
        by_time = zip(self.at_s, self.beer_c, self.target_c, strict=True)
        return [beer - target for at, beer, target in by_time if at >= from_s]

    def near(self, from_s: float) -> float:
        """The share of the time from then on within 0.3 °C of the target."""
        over = self.over_c(from_s)
        return sum(abs(one) <= NEAR_C for one in over) / len(over)

    def beyond_c(self, from_s: float) -> tuple[float, float]:
        """How far below and above the target it came from then on."""
        over = self.over_c(from_s)
        return max(-min(over), 0.0), max(*over, 0.0)

    def starts_a_day(self, from_s: float) -> float:
        return sum(at >= from_s for at in self.starts_s) / ((self.at_s[-1] - from_s) / DAY)


def run(plant: Plant, wished: Wish, days: float, times: Times | None = None) -> Ran:
    """Let the plant be driven for so long, all through the interlock; a probe reads to a tenth of a degree."""
    fridge, times = plant.fridge(), times or Times()
    outputs = Outputs(frozenset(Output)).seen(frozenset(), 0.0)
    ran = Ran([], [], [], [])
    steps = round(days * DAY / DT_S)
    for number in range(steps):
        now_s = number * DT_S
        fridge.room_c = plant.room_c + 2.0 * math.cos(2.0 * math.pi * (now_s / DAY - 0.6))
        fridge.heat_w = plant.heat_w(now_s)
        target_c = plant.target_c(now_s)
        felt = Felt(target_c, round(fridge.beer_c, 1), round(fridge.air.air_c, 1), outputs.on, now_s)
        permitted = permit(wished(felt), outputs, now_s, times).on
        if Output.COOL in permitted and Output.COOL not in outputs.on:
            ran.starts_s.append(now_s)
        outputs = outputs.seen(permitted, now_s)
        fridge.step(permitted, DT_S)
        ran.at_s.append(now_s)
        ran.beer_c.append(fridge.beer_c)
        ran.target_c.append(target_c)
    return ran


def ferments(volume_l: float, peak_at_s: float = 1.5 * DAY) -> Callable[[float], float]:
    """Heat of fermentation, W: 0.5 W a litre at its peak, on the second day (of that order: common practice)."""
    return lambda at_s: 0.5 * volume_l * math.exp(-(((at_s - peak_at_s) / (0.8 * DAY)) ** 2))
