"""Control quality on the thermal model: ours with and without a probe in the air, beside a plain thermostat."""

from collections.abc import Callable
from dataclasses import replace
from itertools import product

from tests.support.thermal_run import DAY, HOUR, Ours, Plain, Plant, Wish, ferments, run

WHO: dict[str, Callable[[], Wish]] = {"air and beer": Ours, "beer alone": lambda: Ours(sees_air=False), "plain": Plain}
HEADER = "litres  W/K of 20 L  room °C  thermostat     near   starts/day   step: below, reached   peak: above, below"


def report() -> str:
    """A row a plant and thermostat. near: of the time at a steady load within 0.3 °C of the target."""
    plants = [Plant(*one) for one in product((5.0, 20.0, 60.0), (0.9, 1.8), (12.0, 24.0, 30.0))]
    return "\n".join([HEADER, *(_row(plant, name) for plant in plants for name in WHO)])


def _row(plant: Plant, name: str) -> str:
    litres, who = plant.volume_l, WHO[name]
    steady = run(replace(plant, heat_w=lambda _: 0.1 * litres), who(), 6)
    step = run(replace(plant, target_c=lambda at_s: 20.0 if at_s < DAY else 16.0, begins_c=20.0), who(), 4)
    peak = run(replace(plant, heat_w=ferments(litres)), who(), 4).beyond_c(0.0)
    there = (at for at, beer in zip(step.at_s, step.beer_c, strict=True) if at > DAY and beer < 16.3)
    there_s = next(there, step.at_s[-1])
    return (
        f"{litres:6.0f}  {plant.ua_w_per_k:11.1f}  {plant.room_c:7.0f}  {name:<12}  {steady.near(2 * DAY):5.0%}"
        f"   {steady.starts_a_day(2 * DAY):10.1f}   {step.beyond_c(there_s)[0]:6.2f} °C {(there_s - DAY) / HOUR:6.0f} h"
        f"     {peak[1]:6.2f} {peak[0]:6.2f} °C"
    )
