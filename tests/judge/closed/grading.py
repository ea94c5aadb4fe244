"""Counts what a closed loop's batches came to, each figure with its interval, beside the rules of thumb."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tests.judge.brew import Array
from tests.judge.closed import batches, loop
from tests.judge.closed.intervals import bootstrap, wilson

THUMBS = {
    "two readings within a point, from day 7": (7, False),
    "two readings within a point, from day 14": (14, False),
    "from day 7, and attenuation in range": (7, True),
}
BARS = {  # mode: aim and floor of the delay (days, median and 90th percentile) and of never
    "probe": ("3.5 / 6; 1 %", "5 / 8; 4 %"),
    "probe, two at most": ("never 5 %", "never 13 %"),
    "thermometer": ("4 / 8; 5 %", "7 / 12; 15 %"),
    "thermometer, forced ferment": ("3 / 6; 2 %", "5 / 10; 10 %"),
    "hydrometer alone": ("6 / 10; 8 %", "9 / 14; 20 %"),
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
    """One batch. ways: by rule of thumb, and the judge's own as `judge`. unmet: gates, on its last evening."""

    seed: int
    simulator: str
    mode: str
    scenario: str
    decidable: bool
    due: bool
    ways: dict[str, Said]
    terminal_error: float | None
    middle_error: float | None
    unmet: tuple[str, ...]


def grade(simulator: str, seed: int, mode: loop.Mode) -> Graded:
    """Brew it, let its brewer ask and answer, and hold what was said to the truth."""
    brew = batches.brew(simulator, seed)
    outcome = loop.run(brew, mode)
    ways = {"judge": _held(brew, outcome.said_h, outcome.readings)}
    for name, (from_day, in_range) in THUMBS.items():
        ways[name] = _held(brew, *loop.by_thumb(brew, from_day, in_range=in_range))
    return Graded(
        seed, simulator, mode.name, brew.scenario, brew.decidable, brew.due, ways,
        outcome.terminal_error, outcome.middle_error, outcome.unmet,
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
            aim, floor = BARS.get(mode.name, ("-", "-"))
            yield f"{_row(mode.name, own, 'judge')}  aim {aim}; floor {floor}"
    yield ""
    yield from _why_never(graded)
    yield ""
    yield from _terminal(graded)
    undecidable = [one for one in graded if not one.decidable]
    early = sum(one.ways["judge"].early for one in undecidable)
    yield f"undecidable from gravity, counted apart: {len(undecidable)}, of which said early {early}"


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
    pairs = [
        (one.terminal_error, one.middle_error)
        for one in graded
        if one.terminal_error is not None and one.middle_error is not None
    ]
    for place, name in enumerate(("forecast", "middle of the yeast's range")):
        errors = [pair[place] for pair in pairs]
        if errors:
            low, high = bootstrap(errors, lambda row: float(np.mean(row)))
            mean = f"{np.mean(errors):.2f} ({low:.2f}-{high:.2f})"
            yield f"terminal gravity at 75 %, mean error of the {name}: {mean} points"
    yield "... with own batches before: not graded, the judge is told of none yet (aim 0.7, floor 0.9 with three)"
