"""The page of one fermenter: what is wrong, its ferment on one time axis, what the cursor reads, and what to do."""

from dataclasses import replace
from datetime import datetime, timedelta

from fermwatch.contracts.feed import InPackage, Lane, Snapshot
from fermwatch.drawing import ferment, progress, scale
from fermwatch.drawing.ferment import Ferment
from fermwatch.drawing.lanes import Pen, alarm_lines
from fermwatch.drawing.lines import EMPTY, GAP, Line, Span, cut_line, ends, merge, width, wrap
from fermwatch.drawing.page import CURSOR, Sheet, showable
from fermwatch.model.window import Window
from fermwatch.saying import at_instant, in_package, words
from fermwatch.saying.corrected import corrected_words, known_offset
from fermwatch.saying.facts import LaneFacts, lane_facts
from fermwatch.saying.ink import Ink
from fermwatch.saying.marks import Mark

LONG = 12  # rows of one text: all of it
SMALL = 16  # rows of a sheet: with fewer, only what matters most stands beside the chart
ALARMS = 2


def lines(
    picture: Ferment, snapshot: Snapshot, sheet: Sheet, left: InPackage | None = None, *, whole: bool
) -> list[Line]:
    """As high as the sheet, or higher where that cannot hold it; the chart takes what the words leave.

    left: of an empty fermenter the beer that left it last, which the picture is of.
    """
    if left is not None:
        return _past(picture, left, snapshot, sheet, whole=whole)
    voice = sheet.voice(snapshot)
    pen = Pen(voice, sheet.glyphs, snapshot.now, max(sheet.width - CURSOR, 20))
    facts = lane_facts(picture.lane, snapshot.now, voice)
    alarms = _alarms(facts, sheet.height, pen)
    below = [
        *_reading(facts, picture, pen),
        *_mark(picture, sheet.height, pen),
        *_words(facts, picture, snapshot, sheet, pen),
    ]
    rows = max(sheet.height - 1 - len(alarms) - len(below), ferment.FEWEST)
    title = _title(facts, picture, pen, whole=whole, phase=rows < ferment.WITH_PHASES)
    chart = ferment.figure(picture, pen.width, rows, voice, sheet.glyphs)
    indented = [(Span(" " * CURSOR), *line) for line in (title, *alarms, *chart, *below)]
    return showable([cut_line(line, sheet.width, voice.ellipsis) for line in indented], sheet)


def _past(picture: Ferment, left: InPackage, snapshot: Snapshot, sheet: Sheet, *, whole: bool) -> list[Line]:
    """A ferment that is over, as of the day that it was packaged; and how the beer stands now."""
    voice = sheet.voice(snapshot)
    pen = Pen(voice, sheet.glyphs, snapshot.now, max(sheet.width - CURSOR, 20))
    facts, empty = lane_facts(picture.lane, picture.now, voice), replace(picture.lane, batch=None)
    read = replace(picture, at=picture.at or picture.now)
    below = [*_reading(facts, read, pen), *_mark(picture, sheet.height, pen)]
    below += [EMPTY, *_packaged(empty, snapshot, pen)] if sheet.height >= SMALL else []
    rows = max(sheet.height - 1 - len(below), ferment.FEWEST)
    packaged = words.moment(picture.now, snapshot.now, voice)
    about = f"  empty{voice.dot}{voice.text(left.batch.name)} was in it, packaged {packaged}"
    title: Line = (Span(facts.name, Ink.STRONG), Span(about))
    length = (Span(_length(picture.window, whole=whole), Ink.FAINT),)
    if width(title) + width(length) + GAP <= pen.width:
        title = merge(ends(title, length, pen.width, voice.ellipsis))
    chart = ferment.figure(picture, pen.width, rows, voice, sheet.glyphs)
    indented = [(Span(" " * CURSOR), *line) for line in (title, *chart, *below)]
    return showable([cut_line(line, sheet.width, voice.ellipsis) for line in indented], sheet)


def _title(facts: LaneFacts, picture: Ferment, pen: Pen, *, whole: bool, phase: bool) -> Line:
    """phase: whether it is told here, since the chart does not tell it."""
    about = pen.voice.dot.join(part for part in (facts.batch, facts.day, facts.phase if phase else "") if part)
    left = (Span(facts.name, Ink.STRONG), Span(f"  {about}"))
    right = (Span(_length(picture.window, whole=whole and picture.lane.batch is not None), Ink.FAINT),)
    return (
        merge(ends(left, right, pen.width, pen.voice.ellipsis))
        if width(left) + width(right) + GAP <= pen.width
        else left
    )


def _length(window: Window, *, whole: bool) -> str:
    hours = round(window.length / timedelta(hours=1))
    length = f"{hours} h" if hours < 48 else words.days(hours / 24)
    return f"whole ferment, {length}" if whole else length


def _alarms(facts: LaneFacts, height: int, pen: Pen) -> list[Line]:
    if height < SMALL:
        return [line for one in facts.alarms[:1] for line in _brief(f"{one.mark} {one.statement}", one.ink, 2, pen)]
    return [line for one in facts.alarms[:ALARMS] for line in alarm_lines(one, pen, LONG)]


def _brief(text: str, ink: Ink, rows: int, pen: Pen) -> list[Line]:
    return [(Span(row, ink),) for row in wrap(text, pen.width, rows, pen.voice.ellipsis)]


def _reading(facts: LaneFacts, picture: Ferment, pen: Pen) -> list[Line]:
    """What was, is or should be at the cursor; at now, where it was not moved, as the overview says it."""
    at = picture.at
    when = "now" if at is None else at_instant.time_words(at, picture.lane, pen.voice)
    said = _now(facts, picture, pen) if at is None else _then(at, picture, pen)
    label = Span(f"{pen.glyphs.hair} {when}: ", Ink.PICK)
    rows = wrap(f"{label.text}{pen.voice.dot.join(part for part in said if part)}", pen.width, LONG, pen.voice.ellipsis)
    first = (label, Span(rows[0].removeprefix(label.text.rstrip()).lstrip(), Ink.STRONG))
    return [first, *((Span(f"  {row}", Ink.STRONG),) for row in rows[1:])]


def _now(facts: LaneFacts, picture: Ferment, pen: Pen) -> tuple[str, ...]:
    low_high = facts.range_c
    should = "" if low_high is None else f", should be at {pen.voice.temperature_range(*low_high)}"
    set_point = "" if facts.set_point_c is None else f", set to {pen.voice.temperature(facts.set_point_c)}"
    gravity = f"gravity {progress.reading(facts, pen.voice)}" if picture.lane.batch is not None else ""
    return f"beer {scale.reading(facts, pen.voice)}{should}{set_point}", gravity, facts.rate


def _then(at: datetime, picture: Ferment, pen: Pen) -> tuple[str, ...]:
    return (
        at_instant.temperature_words(at, picture.lane, picture.curves, picture.now, pen.voice),
        at_instant.regulated_words(at, picture.lane, picture.curves, picture.now, pen.voice),
        at_instant.gravity_words(at, picture.curves, picture.fan, picture.now, pen.voice),
    )


def here(picture: Ferment, size: int) -> tuple[Mark, ...]:
    """The marks that the cursor is on: exactly, else those in its column."""
    at = picture.at
    if at is None:
        return ()
    exact = tuple(one for one in picture.marks if one.at == at)
    column = picture.window.column(at, size)
    return exact or tuple(one for one in picture.marks if picture.window.column(one.at, size) == column)


def _mark(picture: Ferment, height: int, pen: Pen) -> list[Line]:
    """The sentence of what happened at the cursor, or how to step through all of it."""
    found = here(picture, max(pen.width - ferment.LABEL - 1, 8))
    if found:
        return [
            (Span(f"{one.sign.letter if row == 0 else ' '} ", Ink.PICK), Span(text, one.ink))
            for one in found
            for row, text in enumerate(wrap(one.sentence, pen.width - 2, LONG, pen.voice.ellipsis))
        ]
    if height < SMALL or not picture.marks:
        return []
    count = len(picture.marks)
    return _brief(f"  {count} mark{'' if count == 1 else 's'}: n and p step through them", Ink.FAINT, 1, pen)


def _words(facts: LaneFacts, picture: Ferment, snapshot: Snapshot, sheet: Sheet, pen: Pen) -> list[Line]:
    """The verdict's sentence and the next step; of an empty fermenter, what was in it last."""
    lane = picture.lane
    if sheet.height < SMALL and facts.alarms:
        return []
    said: list[Line] = _brief(facts.sentence, facts.verdict_ink if lane.batch is not None else Ink.PLAIN, LONG, pen)
    if sheet.height < SMALL:
        return said
    said += _brief(_gravity_remark(facts, lane, pen), Ink.FAINT, LONG, pen)
    said += _brief(facts.step_sentence, Ink.PLAIN, LONG, pen)
    return [EMPTY, *said, *_packaged(lane, snapshot, pen)]


def _gravity_remark(facts: LaneFacts, lane: Lane, pen: Pen) -> str:
    """With what the chart makes of it, where it draws the beer and not its probe."""
    trend = lane.judgement.trend if lane.judgement is not None else None
    drawn = corrected_words(known_offset(trend), pen.voice) if facts.gravity_remark else ""
    return ", ".join(part for part in (facts.gravity_remark, drawn) if part)


def _packaged(lane: Lane, snapshot: Snapshot, pen: Pen) -> list[Line]:
    lines: list[Line] = []
    for one in snapshot.in_package:
        if one.batch.vessel != lane.vessel.slug or lane.batch is not None:
            continue
        if cautions := in_package.too_early_words(replace(one, alarms=()), pen.voice):
            lines += _brief(" ".join(cautions), Ink.WARNING, LONG, pen)
        lines += _brief(f"Out of it: {in_package.line(one, snapshot.now, pen.voice)}", Ink.PLAIN, LONG, pen)
    return lines
