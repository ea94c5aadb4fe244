"""Sugar that went into fermenting beer: all of it counts in what can still ferment, until gravity is measured to have
fallen by it."""

from collections.abc import Iterable
from dataclasses import dataclass

from fermwatch.brewing.attenuation import FULLY_FERMENTED, added_points
from fermwatch.judgement.facts import Happening
from fermwatch.model.batch import EventKind

# The fall after which it is taken to be gone, of the points that it brought: wholly fermented it is 1.2, and nobody
# knows how sweet a fruit was.
GONE_AFTER = {EventKind.SUGAR: 1.0, EventKind.FRUIT: 0.6}


@dataclass(frozen=True, slots=True)
class Added:
    """hour: when the last of it went in. gravity: points, just after. brought: points of extract. fall: points of
    gravity, after which it is taken to be gone."""

    hour: float
    gravity: float
    brought: float
    fall: float

    def left(self, measured_h: float | None, gravity: float) -> float:
        """What of it may still ferment, in points of gravity. What was measured before it went in says nothing."""
        fallen = max(self.gravity - gravity, 0.0) if measured_h is not None and measured_h > self.hour else 0.0
        return FULLY_FERMENTED * self.brought * max(1.0 - fallen / self.fall, 0.0)


def after(
    before: Added | None, left_before: float, gravity: float, happened: Iterable[Happening], volume_l: float
) -> Added | None:
    """What is known of it after these happenings. left_before, gravity: before them, points."""
    known = before
    for happening in happened:
        brought = added_points(happening, volume_l)
        if happening.kind not in GONE_AFTER or brought <= 0.0:
            continue
        left = left_before / FULLY_FERMENTED if known is before else known.brought if known else 0.0
        gravity += brought
        known = Added(happening.hour, gravity, left + brought, left + brought * GONE_AFTER[happening.kind])
    return known
