"""A probe's history: which fermenter a series served at an instant, and how it was calibrated then.

The one answer to both, for whoever judges, draws, asks or imports. Before its first binding a series is as that one
says, so that what is imported finds its place; a series that is bound to no fermenter (`NOWHERE`) serves none.
"""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from fermwatch.model.probe import Binding, Calibration

NOWHERE = ""
ALWAYS = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class ServedSpan:
    """A span [start, end) through which a series served one fermenter under one calibration.

    supposed: before the first binding, where nobody said so.
    """

    start: datetime
    end: datetime
    vessel: str
    calibration: Calibration
    supposed: bool = False

    def covers(self, at: datetime) -> bool:
        return self.start <= at < self.end


@dataclass(frozen=True, slots=True)
class SpeakingSpan:
    """A span [start, end) in which one series speaks for a fermenter."""

    series: int
    start: datetime
    end: datetime

    def covers(self, series: int, at: datetime) -> bool:
        return series == self.series and self.start <= at < self.end


class History:
    """Of every series that has bindings."""

    def __init__(self, bindings: Iterable[Binding] = ()) -> None:
        self._parts: dict[int, tuple[ServedSpan, ...]] = {}
        held: dict[int, list[Binding]] = {}
        for binding in sorted(bindings, key=lambda one: one.valid_from):
            held.setdefault(binding.series, []).append(binding)
        for series, known in held.items():
            self._parts[series] = tuple(_parts(known))

    def part(self, series: int, at: datetime) -> ServedSpan | None:
        """What held for a series at an instant; None for one that was never bound."""
        return next((part for part in reversed(self._parts.get(series, ())) if part.covers(at)), None)

    def vessel(self, series: int, at: datetime) -> str:
        """The fermenter that it served; NOWHERE where none."""
        part = self.part(series, at)
        return NOWHERE if part is None else part.vessel

    def calibrated(self, series: int, at: datetime, value: float) -> float:
        """The value as it is in truth."""
        part = self.part(series, at)
        return value if part is None else part.calibration.apply(value)

    def parts(self, series: int, start: datetime, end: datetime) -> tuple[ServedSpan, ...]:
        """Those that reach into [start, end), cut to it, in time order."""
        cut = (
            ServedSpan(max(part.start, start), min(part.end, end), part.vessel, part.calibration, part.supposed)
            for part in self._parts.get(series, ())
        )
        return tuple(part for part in cut if part.start < part.end)

    def served(self, series: int, vessel: str, start: datetime, end: datetime) -> bool:
        """Whether it served the fermenter through the whole of [start, end)."""
        return all(part.vessel == vessel for part in self.parts(series, start, end))

    def speakers(self, series: Sequence[int], vessel: str, start: datetime, end: datetime) -> tuple[SpeakingSpan, ...]:
        """Who speaks for a fermenter through [start, end), one at a time: the first of `series` that served it then.
        One that is only supposed to have served it comes after those that did."""
        parts = self._serving(series, vessel, start, end)
        edges = sorted({edge for _, _, part in parts for edge in (part.start, part.end)})
        found: list[SpeakingSpan] = []
        for since, until in itertools.pairwise(edges):
            there = [(part.supposed, rank, number) for rank, number, part in parts if part.covers(since)]
            if not there:
                continue
            _, _, number = min(there)
            if found and found[-1].series == number and found[-1].end == since:
                found[-1] = SpeakingSpan(number, found[-1].start, until)
            else:
                found.append(SpeakingSpan(number, since, until))
        return tuple(found)

    def speaker(self, series: Sequence[int], vessel: str, start: datetime, end: datetime) -> tuple[SpeakingSpan, ...]:
        """As `speakers`, of one series alone: the one that served the fermenter last, the first of them where several
        did. For what cannot be put together from two, as two floats have two offsets."""
        parts = self._serving(series, vessel, start, end)
        if not parts:
            return ()
        latest = max(parts, key=lambda one: (one[2].end, not one[2].supposed, -one[0]))[1]
        return tuple(SpeakingSpan(number, part.start, part.end) for _, number, part in parts if number == latest)

    def _serving(
        self, series: Sequence[int], vessel: str, start: datetime, end: datetime
    ) -> list[tuple[int, int, ServedSpan]]:
        return [
            (rank, number, part)
            for rank, number in enumerate(series)
            for part in self.parts(number, start, end)
            if part.vessel == vessel
        ]


def _parts(bindings: Sequence[Binding]) -> Iterable[ServedSpan]:
    first = bindings[0]
    yield ServedSpan(ALWAYS[0], first.valid_from, first.vessel, first.calibration, supposed=True)
    ends = [*(binding.valid_from for binding in bindings[1:]), ALWAYS[1]]
    for binding, end in zip(bindings, ends, strict=True):
        yield ServedSpan(binding.valid_from, end, binding.vessel, binding.calibration)
