"""Counts what a closed loop's batches came to, each figure with its interval, beside the rules of thumb."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fermwatch.model.finding import Phase
from tests.judge.brew import Array
from tests.judge.closed import batches, loop
from tests.judge.closed.intervals import bootstrap, wilson

ORDINARY = {"normal", "ale", "wheat", "lager", "lager_drest", "fast", "strong", "high_gravity"}
SLOW_STARTERS = {"late_start", "weak_start"}
THUMBS = {
    "two readings within a point, from day 7": (7, False),
    "two readings within a point, from day 14": (14, False),
    "from day 7, and attenuation in range": (7, True),
}


@dataclass(frozen=True)
class Bar:
    """delay_d: median and 90th percentile, days after truly safe; None where none is set. never: 0..1."""

    delay_d: tuple[float, float] | None
    never: float

    def __str__(self) -> str:
        delay = "" if self.delay_d is None else f"{self.delay_d[0]:g} / {self.delay_d[1]:g} d, "
        return f"{delay}never {self.never:.0%}"

    def met(self, delays: Sequence[float], never: float) -> bool:
        """Whether so good or better. What was never said has no delay, and meets none."""
        if never > self.never:
            return False
        quantiles = np.quantile(delays, (0.5, 0.9)) if delays else (np.inf, np.inf)
        return self.delay_d is None or all(
            quantile <= bar for quantile, bar in zip(quantiles, self.delay_d, strict=True)
        )


BARS = {  # by mode: aim and floor
    "probe": (Bar((3.5, 6.0), 0.01), Bar((5.0, 8.0), 0.04)),
    "probe, two at most": (Bar(None, 0.05), Bar(None, 0.13)),
    "thermometer": (Bar((4.0, 8.0), 0.05), Bar((7.0, 12.0), 0.15)),
    "thermometer, forced ferment": (Bar((3.0, 6.0), 0.02), Bar((5.0, 10.0), 0.10)),
    "hydrometer alone": (Bar((6.0, 10.0), 0.08), Bar((9.0, 14.0), 0.20)),
}


@dataclass(frozen=True)
class Said:
    """When one way of judging said `safe`, held to the truth. delay_d: days after truly safe, where it was due."""

    never: bool
    early: bool
    grave: bool
    delay_d: float | None
    readings: int


@dataclass(frozen=True)
class Graded:
    """One batch. ways: by rule of thumb, and the judge's own as `judge`. unmet: gates, on its last evening.

    told_falsely: phases.
    """

    seed: int
    simulator: str
    mode: str
    scenario: str
    decidable: bool
    due: bool
    ways: dict[str, Said]
    terminal_errors: dict[int, float]
    middle_error: float | None
    unmet: tuple[str, ...]
    told_falsely: frozenset[Phase]


def grade(simulator: str, seed: int, mode: loop.Mode) -> Graded:
    """Brew it, let its brewer ask and answer, and hold what was said to the truth."""
    brew = batches.brew(simulator, seed)
    outcome = loop.run(brew, mode)
    ways = {"judge": _held(brew, outcome.said_h, outcome.readings)}
    for name, (from_day, in_range) in THUMBS.items():
        ways[name] = _held(brew, *loop.by_thumb(brew, from_day, in_range=in_range))
    return Graded(
        seed, simulator, mode.name, brew.scenario, brew.decidable, brew.due, ways,
        outcome.terminal_errors, outcome.middle_error, outcome.unmet, frozenset(outcome.told_falsely),
    )  # fmt: skip


def _held(brew: batches.Brew, said_h: float | None, readings: int) -> Said:
    if said_h is None:
        return Said(True, False, False, None, readings)
    delay_d = (said_h - brew.safe_h) / 24.0 if brew.due and brew.safe_h is not None else None
    return Said(False, loop.is_early(brew, said_h), loop.is_grave(brew, said_h), delay_d, readings)


def table(graded: Sequence[Graded]) -> Iterator[str]:
    """The lines of the whole table: all together, by simulator, by mode."""
    yield _line("", "early", "grave", "delay, median / 90th", "never though due", "readings")
    for way in ("judge", *THUMBS):
        yield _row(way, graded, way)
    yield "aim: early 1 %, grave 0; floor: early 2.5 %, grave 0.3 %"
    for simulator in batches.SIMULATORS:
        own = [one for one in graded if one.simulator == simulator]
        if own:
            yield _row(f"judge, simulator {simulator}", own, "judge")
    yield ""
    for mode in loop.MODES:
        own = [one for one in graded if one.mode == mode.name]
        if own:
            yield _row(mode.name, own, "judge") + _beside_bar(mode.name, own)
    yield ""
    yield _asked(graded)
    yield from _why_never(graded)
    yield ""
    yield from _terminal(graded)
    yield from _told_falsely(graded)
    undecidable = [one for one in graded if not one.decidable]
    early = sum(one.ways["judge"].early for one in undecidable)
    yield f"undecidable from gravity, counted apart: {len(undecidable)}, of which said early {early}"


def _asked(graded: Sequence[Graded]) -> str:
    """Of those who measure only when they are asked."""
    unasked = {mode.name for mode in loop.MODES if mode.unasked}
    asked = [
        one.ways["judge"].readings for one in graded if one.scenario in ORDINARY and one.mode not in unasked and one.due
    ]
    if not asked:
        return "readings asked, ordinary beer: none"
    most = f"{int(np.median(asked))} / {max(asked)}, more than 7 in {sum(one > 7 for one in asked)} of {len(asked)}"
    return f"readings asked, ordinary beer, median / most: {most}; aim 2 / 5, floor 3 / 7"


def _told_falsely(graded: Sequence[Graded]) -> Iterator[str]:
    """Phases said of beer that was in another, against how often so before they were looked at."""
    starters = [one for one in graded if one.scenario in SLOW_STARTERS]
    for phase, of, words, before in (
        (Phase.NOT_STARTED, starters, "that started late or weakly", "2 of 60 (3.3%)"),
        (Phase.STALLED, graded, "that went on, or was done", "9 of 360 (2.5%)"),
    ):
        hits = sum(phase in one.told_falsely for one in of)
        share = _share(hits, len(of))
        yield f"told falsely: {phase}, of a beer {words}: {hits} of {len(of)}, {share}; before: {before}"


def _beside_bar(mode: str, graded: Sequence[Graded]) -> str:
    due = [one.ways["judge"] for one in graded if one.due]
    if mode not in BARS or not due:
        return ""
    aim, floor = BARS[mode]
    delays = [said.delay_d for said in due if said.delay_d is not None]
    missed = "" if floor.met(delays, sum(said.never for said in due) / len(due)) else "  MISSED"
    return f"  aim {aim}; floor {floor}{missed}"


def _why_never(graded: Sequence[Graded]) -> Iterator[str]:
    """What was still asked for at the end of those that were due and never safe."""
    for mode in loop.MODES:
        never = [one for one in graded if one.mode == mode.name and one.due and one.ways["judge"].never]
        if never:
            gates = Counter(gate for one in never for gate in one.unmet)
            asked = ", ".join(f"{gate} {count}" for gate, count in gates.most_common())
            yield f"never, {mode.name}: {len(never)}; at the end not met: {asked}"


def early_ones(graded: Sequence[Graded]) -> Iterator[str]:
    """How each early batch is looked at."""
    for one in graded:
        if one.decidable and one.ways["judge"].early:
            grave = "grave, " if one.ways["judge"].grave else ""
            yield f'{grave}{one.scenario}: --story {one.seed} --simulator {one.simulator} --mode "{one.mode}"'


def _row(title: str, graded: Sequence[Graded], way: str) -> str:
    decidable = [one.ways[way] for one in graded if one.decidable]
    due = [one.ways[way] for one in graded if one.due]
    delays = [said.delay_d for said in due if said.delay_d is not None]
    readings = [said.readings for said in due]
    return _line(
        title,
        _share(sum(said.early for said in decidable), len(decidable)),
        _share(sum(said.grave for said in decidable), len(decidable)),
        _delay(delays),
        _share(sum(said.never for said in due), len(due)),
        f"{int(np.median(readings))} / {max(readings)}" if readings else "-",
    )


def _line(*cells: str) -> str:
    widths = (42, 24, 24, 36, 24, 10)
    return "".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()


def _share(hits: int, of: int) -> str:
    low, high = wilson(hits, of)
    return f"{hits / of:.1%} ({low:.1%}-{high:.1%})" if of else "-"


def _delay(delays: Sequence[float]) -> str:
    if not delays:
        return "-"
    return f"{_quantile(delays, 0.5)} / {_quantile(delays, 0.9)}"


def _quantile(values: Sequence[float], share: float) -> str:
    def figure(row: Array) -> float:
        return float(np.quantile(row, share))

    low, high = bootstrap(values, figure)
    return f"{np.quantile(values, share):.1f} ({low:.1f}-{high:.1f})"


def _terminal(graded: Sequence[Graded]) -> Iterator[str]:
    ways = {
        f"forecast, {count} own batches before": [one.terminal_errors.get(count) for one in graded]
        for count in loop.OWN_BEFORE
    }
    ways["middle of the yeast's range"] = [one.middle_error if one.terminal_errors else None for one in graded]
    for name, found in ways.items():
        errors = [error for error in found if error is not None]
        if errors:
            low, high = bootstrap(errors, lambda row: float(np.mean(row)))
            mean = f"{np.mean(errors):.2f} ({low:.2f}-{high:.2f}, {len(errors)} batches)"
            yield f"terminal gravity at 75 %, mean error of the {name}: {mean} points"
    yield "aim: 1.2 without an own batch, 0.7 after three; floor: 1.3 and 0.9"
