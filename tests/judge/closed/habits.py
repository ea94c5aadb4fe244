"""A brewer's earlier batches, as a store would hold them: what was entered at the pitch, and the last reading by hand.

The brewer's worts end about a mean of their own; neither that nor how far batches lie about it is told to anybody.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np

from fermwatch.judgement.earlier import own_ends
from fermwatch.judgement.ends import OwnEnd
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.judgement import Judgement
from tests.judge.closed.batches import Brew

SPREAD = (0.006, 0.018)  # of apparent attenuation, from batch to batch
READING_SD = 0.6  # points, read to whole ones
LIKE_POINTS = 4.0  # of the original gravity, from batch to batch
APART_DAYS, IN_FERMENTER_DAYS = 30, 18


class Earlier:
    """Batches that have left their fermenters. As far as `own_ends` asks, a store."""

    def __init__(self, brew: Brew, batch: Batch, count: int) -> None:
        random = np.random.default_rng([brew.seed, 6])
        spread = float(random.uniform(*SPREAD))
        mean = brew.attenuation + float(random.normal(0.0, spread))
        self._batches: list[Batch] = []
        self._read: dict[str, GravityMeasurement] = {}
        for place in range(count):
            pitched = batch.pitched_at - timedelta(days=APART_DAYS * (place + 1))
            packaged = pitched + timedelta(days=IN_FERMENTER_DAYS)
            original = brew.original + float(random.uniform(-LIKE_POINTS, LIKE_POINTS))
            end = original * (1.0 - mean - float(random.normal(0.0, spread)))
            entered, read = (round(points + float(random.normal(0.0, READING_SD))) for points in (original, end))
            name = f"{batch.id}-{place + 1}-before"
            before = replace(batch, id=name, original_sg=1.0 + entered / 1000.0, pitched_at=pitched)
            self._batches.append(replace(before, packaged_at=packaged, ended_at=packaged))
            self._read[name] = GravityMeasurement(f"{name}-last", packaged - timedelta(hours=1), 1.0 + read / 1000.0)

    def batches(self, *, ended: bool = False) -> tuple[Batch, ...]:
        return tuple(self._batches) if ended else ()

    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]:
        del strict
        return (self._read[batch_id],)

    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]:
        del batch_id, strict  # nothing was done to them
        return ()

    def judgement(self, batch_id: str) -> Judgement | None:
        del batch_id  # this program did not follow them
        return None


def own_before(brew: Brew, batch: Batch, count: int) -> Sequence[OwnEnd]:
    """What of so many earlier batches is known."""
    return own_ends(Earlier(brew, batch, count), batch)
