"""How far a wort should attenuate and how far it has: its yeast's figures, corrected for what else is in it, and one
formula with one rounding. The one place for both.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.believable import PLAUSIBLE
from fermwatch.model.quantity import Quantity

SUCROSE_POINTS = 0.386  # points per g/L (ICUMSA density of dilute sucrose)
SUGAR_OF_FRUIT = 0.10  # share of its mass (common practice)
FULLY_FERMENTED = 1.2  # apparent attenuation of pure sugar: alcohol is lighter than water (Balling)
MOST_GRAMS = 1e6
DIGITS = 4  # so that a share between two percent is rounded to the same one wherever it is said
ATTENUATION_OF = {"lactose": 0.0, "maltodextrin": 0.05}  # others ferment fully


class Deed(Protocol):
    """Something that was done to a beer."""

    @property
    def kind(self) -> EventKind: ...
    @property
    def data(self) -> Mapping[str, float | str | bool]: ...


@dataclass(frozen=True, slots=True)
class Expectation:
    """original: points, with the sugars that were added since. low, high: apparent attenuation, 0..1.

    corrected: whether they are others than the yeast's own.
    """

    original: float
    low: float
    high: float
    corrected: bool

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2.0

    @property
    def ends_sg(self) -> tuple[float, float]:
        """Lowest and highest gravity at which it should end, SG 20/20: however much sugar is said to have gone in,
        within what anything can read."""
        least, most = PLAUSIBLE[Quantity.GRAVITY]
        low, high = (1.0 + self.original * (1.0 - share) / 1000.0 for share in (self.high, self.low))
        return min(max(low, least), most), min(max(high, least), most)


def expected(batch: Batch, events: Iterable[Event] = ()) -> Expectation:
    """What is expected of the batch, with what was added in these events."""
    return expected_after(batch, (event for event in events if not event.voided))


def original_sg_at(batch: Batch, events: Iterable[Event], at: datetime) -> float:
    """The original gravity with what was added until then: a gravity read before an addition is judged without it."""
    return 1.0 + expected(batch, (event for event in events if event.at <= at)).original / 1000.0


def attenuated(original_sg: float, gravity_sg: float) -> float | None:
    """Apparent attenuation, 0..1; below zero above the original gravity, None where that is none."""
    if original_sg <= 1.0:
        return None
    return round((original_sg - gravity_sg) / (original_sg - 1.0), DIGITS)


def expected_after(batch: Batch, done: Iterable[Deed]) -> Expectation:
    yeast = batch.yeast
    adjuncts = {name: bounded(grams, 0.0, 1e4, else_=0.0) for name, grams in batch.extract_adjuncts_g_per_l.items()}
    added = [(str(one.data.get("name", "sugar")), added_points(one, batch.volume_l)) for one in done]
    original = bounded((batch.original_sg - 1.0) * 1000.0, 1.0, 300.0, else_=50.0)
    parts = [(name, grams * SUCROSE_POINTS) for name, grams in adjuncts.items()] + added
    low, high = corrected_range(yeast.attenuation_low, yeast.attenuation_high, original, parts, original_holds=adjuncts)
    corrected = (low, high) != (yeast.attenuation_low, yeast.attenuation_high)
    return Expectation(original + sum(points for _, points in added), low, high, corrected)


def added_points(done: Deed, volume_l: float) -> float:
    """Points of extract that an addition brings: by its grams, else what is ordinary for its kind."""
    per_litre = number_of(done, "grams", 0.0, 0.0, MOST_GRAMS) / bounded(volume_l, 0.1, 1e5, else_=0.1)
    if done.kind is EventKind.SUGAR:
        return per_litre * SUCROSE_POINTS
    if done.kind is EventKind.FRUIT:
        return per_litre * SUGAR_OF_FRUIT * SUCROSE_POINTS
    return 0.0


def corrected_range(
    low: float,
    high: float,
    original: float,
    parts: Iterable[tuple[str, float]],
    *,
    original_holds: Mapping[str, float],
) -> tuple[float, float]:
    """The yeast's range of apparent attenuation for wort of which `parts` (name, points) are not malt extract."""
    known = list(parts)
    foreign = sum(points for _, points in known)
    total = original + foreign - sum(grams * SUCROSE_POINTS for grams in original_holds.values())
    if foreign <= 0.0 or total <= 0.0:
        return low, high
    malt = max(total - foreign, 0.0)
    gone = sum(points * ATTENUATION_OF.get(name.lower(), FULLY_FERMENTED) for name, points in known)
    return (malt * low + gone) / total, (malt * high + gone) / total


def number_of(done: Deed, key: str, missing: float, least: float, most: float) -> float:
    """A number out of an event's data; what is missing, no number or beyond all reason counts as missing."""
    value = done.data.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return missing
    return float(value) if least <= value <= most else missing


def bounded(value: float, least: float, most: float, *, else_: float) -> float:
    """A number that cannot stop the reckoning: within bounds, and `else_` where it is none."""
    return min(max(value, least), most) if math.isfinite(value) else else_
