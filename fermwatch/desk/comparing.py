"""A new gravity beside what is known already: what a brewer should look at twice before it is stored."""

import math
from collections.abc import Iterator
from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.store import Reader
from fermwatch.desk import heard
from fermwatch.desk.correcting import Corrected
from fermwatch.model.amounts import gravity, instant, points
from fermwatch.model.batch import BRINGS_EXTRACT, Batch, GravityMeasurement
from fermwatch.model.quantity import Quantity

FAR_FROM_PROBE = 4.0  # points: what a float's offset and foam explain
FAR_BELOW_END = 5.0
CLEARLY = 2.0  # standard deviations
NEARLY_THE_SAME = timedelta(hours=1)
A_DAY = timedelta(days=1)
FASTEST_POINTS_PER_H = 2.5  # the fastest yeasts take a wort of 1.060 down in a day (common practice)


def doubts(reader: Reader, batch: Batch, corrected: Corrected, at: datetime) -> Iterator[str]:
    """One sentence or two for each thing that does not fit."""
    if at < batch.pitched_at:
        yield f"That is before {batch.name} was pitched."
    lowest_sg, _ = expected(batch, reader.events(batch.id, strict=False)).ends_sg
    yield from _beside_original(batch, lowest_sg, corrected)
    yield from _beside_probe(reader, batch, corrected, at)
    others = [one for one in reader.measurements(batch.id, strict=False) if not one.voided]
    yield from _beside_near(lowest_sg, others, corrected, at)
    yield from _beside_last(reader, batch, others, corrected, at)


def _points(later_sg: float, earlier_sg: float) -> float:
    return 1000.0 * (later_sg - earlier_sg)


def _beside_original(batch: Batch, lowest_sg: float, corrected: Corrected) -> Iterator[str]:
    above = _points(corrected.gravity_sg, batch.original_sg)
    if above > CLEARLY * math.hypot(corrected.sd_points, batch.original_origin.sd_points):
        yield (
            f"That is {points(above, 0)} above the original gravity {gravity(batch.original_sg)}: is one of them "
            "mistyped?"
        )
    below = -_points(corrected.gravity_sg, lowest_sg)
    if below > FAR_BELOW_END:
        yield (
            f"That is {points(below, 0)} below the lowest end expected of this yeast, {gravity(lowest_sg)}. If a "
            "second reading agrees, it ferments what it should not: treat it as diastatic or wild, and do not bottle "
            "yet."
        )


def _beside_probe(reader: Reader, batch: Batch, corrected: Corrected, at: datetime) -> Iterator[str]:
    probe_sg = heard.around(reader, batch.vessel, Quantity.GRAVITY, at)
    if probe_sg is None:
        return
    apart = _points(corrected.gravity_sg, probe_sg)
    if abs(apart) > FAR_FROM_PROBE + corrected.sd_points:
        side = "above" if apart > 0.0 else "below"
        yield (
            f"That is {points(abs(apart), 0)} {side} the probe, which says {gravity(probe_sg)}: read again, and look "
            "for foam or a stuck float."
        )


def _beside_near(
    lowest_sg: float, others: list[GravityMeasurement], corrected: Corrected, at: datetime
) -> Iterator[str]:
    """Of another reading within a day, by whatever instrument: further apart than the beer can have fallen between
    them, both cannot be right."""
    near = [
        one
        for one in others
        if abs(at - one.at) <= NEARLY_THE_SAME
        or (abs(at - one.at) <= A_DAY and one.instrument is not corrected.instrument)
    ]
    if not near:
        return
    other = min(near, key=lambda one: abs(at - one.at))
    apart = _points(corrected.gravity_sg, other.gravity_sg)
    before_sg = max(corrected.gravity_sg, other.gravity_sg)
    may_fall = min(
        FASTEST_POINTS_PER_H * abs(at - other.at) / timedelta(hours=1),
        max(_points(before_sg, lowest_sg), 0.0),
    )
    falls = (apart < 0.0) == (at >= other.at)
    if abs(apart) > falls * may_fall + CLEARLY * math.hypot(corrected.sd_points, other.sd_points):
        side, when = "above" if apart > 0.0 else "below", instant(other.at)
        yield (
            f"That is {points(abs(apart), 0)} {side} the {other.instrument}'s {gravity(other.gravity_sg, 4)} of "
            f"{when}, and only one of them can be right. Read again, and void the wrong one: fermwatch measure void "
            f"{other.id}"
        )


def _beside_last(
    reader: Reader, batch: Batch, others: list[GravityMeasurement], corrected: Corrected, at: datetime
) -> Iterator[str]:
    last = _last_before(others, corrected, at)
    if last is None:
        return
    risen = _points(corrected.gravity_sg, last.gravity_sg)
    raised = any(
        event.kind in BRINGS_EXTRACT and not event.voided and last.at <= event.at <= at
        for event in reader.events(batch.id, strict=False)
    )
    if not raised and risen > CLEARLY * math.hypot(corrected.sd_points, last.sd_points):
        yield (
            f"That is {points(risen, 1)} higher than on {instant(last.at)} ({gravity(last.gravity_sg)}). Fermenting "
            "beer never rises: gas, the temperature of the sample, or a slip. If the earlier one was mistyped: "
            f"fermwatch measure void {last.id}"
        )


def _last_before(
    measurements: list[GravityMeasurement], corrected: Corrected, at: datetime
) -> GravityMeasurement | None:
    """The newest of the same instrument: a hydrometer and a refractometer have different errors."""
    earlier = [one for one in measurements if one.at < at - NEARLY_THE_SAME and one.instrument is corrected.instrument]
    return earlier[-1] if earlier else None
