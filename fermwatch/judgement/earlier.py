"""The brewer's own earlier batches with the same yeast and a like wort: where each ended, as measured by hand."""

from collections.abc import Iterator, Sequence
from math import hypot
from typing import Protocol

from fermwatch.judgement.ends import OwnEnd
from fermwatch.judgement.facts import Facts, facts_of, happening_of
from fermwatch.model.batch import Batch, Event, GravityMeasurement, GravityOrigin
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement

MOST_BATCHES = 6  # the newest: habits change
LIKE_GRAVITY = 0.25  # of the original gravity
LIKE_MIDDLE = 0.03  # apparent attenuation: how far what else is in the wort may move its end
FERMENTED_H, SAME_H, APART_H, LAST_H = 24.0, 14 * 24.0, 40.0, 7 * 24.0
SAME_POINTS = 1.05  # a division of an ordinary hydrometer
UNPROVEN_POINTS = 0.8  # of a last reading that no other confirms (common practice)
LEAST_POINTS = 0.35  # however many agree: they are read on one instrument


class Cellarbook(Protocol):
    """As far as it is read here, a store."""

    def batches(self, *, ended: bool = False) -> tuple[Batch, ...]: ...
    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]: ...
    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]: ...
    def judgement(self, batch_id: str) -> Judgement | None: ...


def own_ends(past: Cellarbook, batch: Batch) -> tuple[OwnEnd, ...]:
    """Of the batches that had left their fermenter before this one was pitched, the newest first; what was taken back
    counts for nothing, and a batch that cannot be read is left out."""
    now = facts_of(batch, ())
    if now.diastatic or now.wild or now.maltose_negative:
        return ()
    found: list[OwnEnd] = []
    for other in sorted(_left_before(past, batch), key=lambda one: one.pitched_at, reverse=True):
        if len(found) < MOST_BATCHES and (end := _end_of(past, other, batch, now)) is not None:
            found.append(end)
    return tuple(found)


def _left_before(past: Cellarbook, batch: Batch) -> Iterator[Batch]:
    for other in past.batches(ended=True):
        left = other.left_fermenter_at
        if other.id != batch.id and left is not None and left <= batch.pitched_at and _same_yeast(other, batch):
            yield other


def _same_yeast(one: Batch, other: Batch) -> bool:
    same_kind = one.yeast.kind.casefold() == other.yeast.kind.casefold()
    return same_kind and one.yeast.name.strip().casefold() == other.yeast.name.strip().casefold()


def _end_of(past: Cellarbook, other: Batch, batch: Batch, now: Facts) -> OwnEnd | None:
    """None where it was another wort, or where nothing shows its end. Its wort is judged by the figures of `batch`."""
    if other.original_origin is not GravityOrigin.MEASURED:
        return None
    left = other.left_fermenter_at or other.pitched_at
    events = [one for one in past.events(other.id, strict=False) if not one.voided and one.at <= left]
    happened = [happening_of(one, other.pitched_at) for one in events]
    facts = facts_of(_with_yeast_of(other, batch), sorted(happened, key=lambda one: (one.hour, one.id)))
    alike = abs(facts.original - now.original) <= LIKE_GRAVITY * now.original
    alike = alike and abs(facts.attenuation_middle - now.attenuation_middle) <= LIKE_MIDDLE and not facts.blended
    judged = past.judgement(other.id)
    verdict = None if judged is None or judged.verdict is None else judged.verdict.kind
    if not alike or verdict is VerdictKind.HOLD:
        return None  # what was on hold when it left may have stopped short
    read = _levels(other, facts, past.measurements(other.id, strict=False))
    return _measured(read, facts, other, settled=verdict is VerdictKind.SAFE)


def _with_yeast_of(other: Batch, batch: Batch) -> Batch:
    return Batch(
        other.id, other.name, other.vessel, other.original_sg, other.pitched_at, other.volume_l, batch.yeast,
        other.original_origin, extract_adjuncts_g_per_l=other.extract_adjuncts_g_per_l,
    )  # fmt: skip


def _levels(other: Batch, facts: Facts, said: Sequence[GravityMeasurement]) -> list[tuple[float, float, float]]:
    """Hours since the pitch, points and their sd, of the beer as it left the fermenter, in time order."""
    left = other.left_fermenter_at or other.pitched_at
    since_h = max(facts.last_addition_h or 0.0, facts.last_hops_h or 0.0, FERMENTED_H)
    kept = [one for one in said if one.level_known and not one.voided and one.at <= left]
    rows = [
        ((one.at - other.pitched_at).total_seconds() / 3600.0, (one.gravity_sg - 1.0) * 1000.0, one.sd_points)
        for one in kept
    ]
    return sorted(row for row in rows if row[0] > since_h)


def _measured(
    read: Sequence[tuple[float, float, float]], facts: Facts, other: Batch, *, settled: bool
) -> OwnEnd | None:
    """The mean of the last readings that say the same; one alone counts for less, one of long before for nothing."""
    if not read:
        return None
    last_h, last, _ = read[-1]
    same = [row for row in read if last_h - row[0] <= SAME_H and abs(row[1] - last) <= SAME_POINTS]
    proven = settled or last_h - same[0][0] >= APART_H
    left_h = ((other.left_fermenter_at or other.pitched_at) - other.pitched_at).total_seconds() / 3600.0
    if not proven and (other.packaged_at is None or left_h - last_h > LAST_H):
        return None
    points = sum(row[1] for row in same) / len(same)
    by_hand = max(hypot(*(row[2] for row in same)) / len(same), LEAST_POINTS)
    by_original = facts.original_sd * points / max(facts.original, 1.0)
    sd = hypot(by_hand, by_original, 0.0 if proven else UNPROVEN_POINTS) / max(facts.original, 1.0)
    reached = facts.attenuation(points)
    return OwnEnd(reached, sd, reached - facts.attenuation_middle, facts.last_hops_h is not None)
