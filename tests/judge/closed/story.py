"""One batch told evening by evening: the truth, what was read, and what was said on it."""

from collections.abc import Iterator

from fermwatch.model.amounts import plain
from tests.judge.closed.loop import Evening, Outcome, at


def story(outcome: Outcome) -> Iterator[str]:
    """Lines: the batch, then an evening a line wherever something new was read, asked or said."""
    brew = outcome.brew
    safe = "never" if brew.safe_h is None else f"day {brew.safe_h / 24.0:.1f}"
    known = "decidable" if brew.decidable else "undecidable from gravity"
    yield (
        f"== {brew.scenario} ({brew.kind.name}, {brew.simulator} {brew.seed}), {outcome.mode.name}: from "
        f"{1.0 + brew.original / 1000.0:.4f}, truly safe {safe}, {known}, {'due' if brew.due else 'not due'}"
    )
    before = ""
    for evening in outcome.evenings:
        said = _said(evening)
        if said != before or evening.reading is not None:
            yield f"day {evening.hour / 24.0:4.1f}  {_truth(outcome, evening.hour)}  {_read(evening)}{said}"
        before = said
    if outcome.said_h is None:
        yield "never said safe"
    elif outcome.early:
        yield f"EARLY: {brew.left(outcome.said_h):.1f} points left, falling {brew.decline(outcome.said_h):.2f} a day"


def _truth(outcome: Outcome, hour: float) -> str:
    return f"[{1.0 + outcome.brew.gravity(hour) / 1000.0:.4f}, {outcome.brew.left(hour):4.1f} left]"


def _read(evening: Evening) -> str:
    return "" if evening.reading is None else f"read {1.0 + evening.reading / 1000.0:.3f}. "


def _said(evening: Evening) -> str:
    if evening.said is None:
        return "nothing said"
    asked = "" if evening.asked_h is None else f" Asks for a reading on {at(evening.asked_h):%d %b %H:%M}."
    said = evening.said
    when = "" if said.next_at is None else f"From {said.next_at:%d %b %H:%M}: "
    return plain(f"{said.kind}: {said.sentence} {when}{said.next_step}{asked} {'; '.join(said.reasons[:2])}")
