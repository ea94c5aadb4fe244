"""One fermenter's lane, read from left to right as on a chart recorder, in four sizes."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum

from fermwatch.contracts.feed import Lane
from fermwatch.drawing import chart, progress, scale
from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import (
    EMPTY,
    GAP,
    Line,
    Span,
    beside,
    cells,
    cut,
    cut_line,
    ends,
    whole_words,
    width,
    wrap,
    wrap_whole,
)
from fermwatch.drawing.probe_list import probe_lines
from fermwatch.saying import quiet
from fermwatch.saying.facts import AlarmFacts, LaneFacts
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

ALARMS_SHOWN = 2
WORD_ROWS = 5
LONGEST_SENTENCE = 4  # rows that a verdict may take: one that needs them all may be cut short
ROOMY = 3  # rows that a statement or a remedy may take where there is room


class Form(IntEnum):
    """How much room a lane takes; the words that remain are the ones that matter."""

    LINE = 1
    PAIR = 2
    LANE = 4
    TALL = 9


@dataclass(frozen=True, slots=True)
class Pen:
    """What a lane is drawn with."""

    voice: Voice
    glyphs: Glyphs
    now: datetime
    width: int
    names: int = 13  # cells of the longest name of a fermenter, with its mark
    beers: int = 13  # cells of the longest name of a batch


def heights(facts: LaneFacts, form: Form, pen: Pen) -> list[int]:
    """The numbers of rows that suit the lane, the least first: with room, no alarm is cut short or left out."""
    if form is Form.LINE or (form is Form.PAIR and pen.width < NARROW):
        return [form]
    least = {int(form)} if form is Form.PAIR else set()  # two rows hold the alarm's first words themselves
    return sorted(least | {_body_height(form) + len(rows) for rows in _alarm_choices(facts, pen)})


def _body_height(form: Form) -> int:
    return form + (form is Form.LANE)  # a lane's rule stands alone, a tall one's carries its title


def draw(lane: Lane, facts: LaneFacts, form: Form, rows: int, pen: Pen) -> list[Line]:
    """The lane in exactly `rows` lines of the pen's width, without the cursor."""
    if form is Form.LINE:
        return [_one_row(facts, pen)]
    if form is Form.PAIR:
        fitting = [one for one in _alarm_choices(facts, pen) if len(one) <= rows - form and pen.width >= NARROW]
        told = max(fitting, key=len, default=[])
        shown = replace(facts, alarms=()) if told else facts
        return [*[EMPTY] * (rows - form - len(told)), *_two_rows(lane, shown, pen, _who(facts)), *told]
    room = rows - _body_height(form)
    below = max((one for one in _alarm_choices(facts, pen) if len(one) <= room), key=len)
    head = rows - len(below)
    if form is Form.LANE:
        return [*_lane(lane, facts, pen), *below, *[EMPTY] * (head - _body_height(form))]
    gap = 1 if head > Form.TALL + 1 else 0
    return [*_tall(lane, facts, head - gap, pen), *below, *[EMPTY] * gap]


def _who(facts: LaneFacts) -> Line:
    """The name, marked where somebody is needed, or where something is kept quiet."""
    if facts.ink is not Ink.PLAIN:
        return (Span(f"{facts.alarms[0].mark} {facts.name}", facts.ink),)
    return (Span(f"{quiet.MARK} {facts.name}" if facts.kept_quiet else facts.name, Ink.STRONG),)


def _lane(lane: Lane, facts: LaneFacts, pen: Pen) -> list[Line]:
    """A rule, three rows of instruments, one of words."""
    inner = pen.width
    who = min(max(pen.names, pen.beers, cells("pitched today")), 20)
    scales = min(max((inner - who - 3 * GAP) // 3, 16), 40)
    rest = inner - who - 2 * scales - 3 * GAP
    names = [_who(facts), (Span(facts.batch),), (Span(facts.day, Ink.PLAIN),)]
    blocks = [
        (names, who),
        (_temperature_block(facts, scales, pen), scales),
        (_gravity_block(facts, scales, pen), scales),
        (chart.small(lane.last_day(pen.now), rest, 3, pen.voice, pen.glyphs), rest),
    ]
    return [_rule(facts, pen), *beside(blocks, 3), _words(facts, inner, pen.voice)]


def _rule(facts: LaneFacts, pen: Pen) -> Line:
    """What parts two lanes; on it what the controller of the lower one does, and how its probes do."""
    probes = cut_line(_probes(facts), pen.width, pen.voice.ellipsis)
    controller = _controller(facts, pen.width - width(probes) - 2 * GAP, pen)
    rule = pen.width - width(controller) - width(probes) - 1
    return (*controller, Span(pen.glyphs.rule * max(rule, 0) + " ", Ink.FAINT), *probes)


LEAST_CONTROLLER = 24  # cells: in fewer nothing of it is understood


def _controller(facts: LaneFacts, size: int, pen: Pen) -> Line:
    """What the controllers do, on a rule that has room; empty where there is none of either."""
    if not facts.controllers or size < LEAST_CONTROLLER:
        return EMPTY
    said = cut("; ".join(one.brief for one in facts.controllers), size - 2 - GAP, pen.voice.ellipsis)
    plain = any(one.ink is not Ink.FAINT for one in facts.controllers)
    return Span(pen.glyphs.rule * 2 + " ", Ink.FAINT), Span(f"{said} ", Ink.PLAIN if plain else Ink.FAINT)


def _temperature_block(facts: LaneFacts, size: int, pen: Pen) -> list[Line]:
    return [
        scale.above(facts, size, pen.voice),
        scale.strip(facts, size, pen.glyphs),
        scale.below(facts, size, pen.voice),
    ]


def _gravity_block(facts: LaneFacts, size: int, pen: Pen) -> list[Line]:
    return [
        progress.above(facts, size, pen.voice),
        progress.bar(facts, size, pen.glyphs),
        progress.below(facts, size, pen.voice),
    ]


InkedText = tuple[str, Ink]


def _joined(parts: list[InkedText], voice: Voice) -> Line:
    spans: list[Span] = []
    for text, ink in parts:
        if text:
            spans += [Span(voice.dot, Ink.FAINT)] if spans else []
            spans.append(Span(text, ink))
    return tuple(spans)


def _with(text: str, detail: str, form: str) -> str:
    return form.format(text, detail) if text and detail else text


def _words(facts: LaneFacts, size: int, voice: Voice) -> Line:
    """Phase, progress and verdict in one row: whole words are left out until it fits, the verdict last."""
    phase = (_with(facts.phase, facts.phase_reason, "{} ({})"), Ink.PLAIN)
    done = (_with(facts.done, facts.done_spread, "{} ({})"), Ink.PLAIN)
    verdict = (_sentence(facts).rstrip("."), facts.verdict_ink)
    rate, short_rate = (facts.rate, Ink.PLAIN), (facts.rate.partition(" (")[0], Ink.PLAIN)
    short_verdict = (facts.verdict, facts.verdict_ink)
    short_phase, short_done = (facts.phase, Ink.PLAIN), (facts.done, Ink.PLAIN)
    planned = (facts.planned, Ink.PLAIN)
    forms = (
        [planned, phase, rate, done, verdict],
        [planned, short_phase, rate, short_done, verdict],
        [planned, short_phase, short_rate, short_done, short_verdict],
        [planned, short_phase, short_done, verdict],
        [planned, short_phase, short_done, short_verdict],
        [planned, short_phase, short_verdict],
        [planned, short_verdict],
        [short_phase, short_verdict],
    )
    for line in (_joined(parts, voice) for parts in forms):
        if width(line) <= size:
            return line
    return cut_line(_joined([short_verdict], voice), size, voice.ellipsis)


def _sentence(facts: LaneFacts) -> str:
    """The verdict as its short form is written, which takes its place from one refresh to the next."""
    return f"{facts.sentence[:1].lower()}{facts.sentence[1:]}"


def _probes(facts: LaneFacts) -> Line:
    """How the probes do, after what is kept quiet."""
    mark = "" if facts.probes_ink is Ink.FAINT else "! "
    kept = (Span(f"{quiet.MARK} {facts.kept_quiet}"), Span("  ")) if facts.kept_quiet else ()
    beside = (Span(facts.gravity_remark, Ink.FAINT), Span("  ")) if facts.gravity_remark else ()
    return (*kept, *beside, Span(f"{mark}{facts.probes}", facts.probes_ink))


def _tall(lane: Lane, facts: LaneFacts, rows: int, pen: Pen) -> list[Line]:
    """Instruments and words at the left, a strip of chart paper at the right."""
    inner, voice = pen.width, pen.voice
    left = min(max(inner * 2 // 5, 44), 76)
    right = inner - left - 2 * GAP
    title = _title(facts, pen)
    block = [
        *_labelled("beer", _temperature_block(facts, left - _LABEL, pen)),
        *_labelled("gravity", _gravity_block(facts, left - _LABEL, pen)),
        *_told(facts, left, min(rows - 7, WORD_ROWS), voice),
    ]
    if rows - 1 - len(block) > len(lane.probes):
        block += [EMPTY, *(cut_line(line, left, voice.ellipsis) for line in probe_lines(lane.probes, pen.now, voice))]
    paper = chart.paper(lane.last_day(pen.now), facts.range_c, right, rows - 1, pen.now, voice, pen.glyphs)
    return [title, *beside([(block, left), (paper, right)], rows - 1, 2 * GAP)]


_LABEL = 9


def _labelled(label: str, block: list[Line]) -> list[Line]:
    """The label beside the middle row, where the instrument itself is."""
    names = (" " * _LABEL, label.ljust(_LABEL), " " * _LABEL)
    return [(Span(name, Ink.FAINT), *line) for name, line in zip(names, block, strict=True)]


def _told(facts: LaneFacts, size: int, rows: int, voice: Voice) -> list[Line]:
    """Phase and progress, the end, then the verdict; blank rows between where there is room."""
    phase = (_with(facts.phase, facts.phase_reason, "{} ({})"), Ink.PLAIN)
    done = (_with(facts.done, facts.done_spread, "{} ({})"), Ink.PLAIN)
    rate, short_phase, short_done = (facts.rate, Ink.PLAIN), (facts.phase, Ink.PLAIN), (facts.done, Ink.PLAIN)
    parts = [[phase, rate], [done]] if rows > 2 and facts.done else [[phase, rate, short_done]]
    with_end = ([short_phase, rate, short_done], [short_phase, short_done]) if facts.done and len(parts) == 1 else ()
    for shorter in (*with_end, [phase], [short_phase]):
        if width(_joined(parts[0], voice)) > size:
            parts[0] = shorter
    if facts.planned and len(parts) + 1 < rows:
        parts.insert(0, [(facts.planned, Ink.PLAIN)])
    said = [line for part in parts if (line := _joined(part, voice))]
    more = max(rows - len(said), 1)
    verdict = wrap(_sentence(facts), size, LONGEST_SENTENCE, voice.ellipsis)
    verdict = verdict if len(verdict) <= min(more, LONGEST_SENTENCE - 1) else wrap(facts.verdict, size, more)
    said += [(Span(text, facts.verdict_ink),) for text in verdict]
    if rows > len(said):
        said.insert(0, EMPTY)
    return [cut_line(line, size, voice.ellipsis) for line in said]


def instruments(facts: LaneFacts, pen: Pen) -> list[Line]:
    """Both scales side by side, for a page about this lane alone."""
    size = (pen.width - 2 * GAP) // 2
    blocks = [(_temperature_block(facts, size, pen), size), (_gravity_block(facts, size, pen), size)]
    return beside(blocks, 3, 2 * GAP)


def joined_words(facts: LaneFacts, pen: Pen) -> list[Line]:
    return [line for line in _told(facts, pen.width, WORD_ROWS + 2, pen.voice) if line]


def _title(facts: LaneFacts, pen: Pen) -> Line:
    """Who it is, its beer and day, and how its probes do, on the rule that begins the lane."""
    about = pen.voice.dot.join(part for part in (facts.batch, facts.day) if part)
    left = (*_who(facts), Span(f"  {about} ", Ink.PLAIN))
    right = (Span(" "), *_probes(facts))
    left = (*left, *_controller(facts, pen.width - width(left) - width(right) - GAP, pen))
    rule = pen.width - width(left) - width(right)
    if rule < 1:
        return cut_line((*left, Span(pen.glyphs.rule, Ink.FAINT), *right), pen.width, pen.voice.ellipsis)
    return (*left, Span(pen.glyphs.rule * rule, Ink.FAINT), *right)


def _alarm_choices(facts: LaneFacts, pen: Pen) -> list[list[Line]]:
    """The alarms told shorter and longer."""
    counts = sorted({1, min(len(facts.alarms), ALARMS_SHOWN)})
    return [
        _alarm_rows(facts.alarms[:count], len(facts.alarms) - count, pen, each)
        for count in counts
        for each in (1, ROOMY)
    ]


def _alarm_rows(shown: tuple[AlarmFacts, ...], more: int, pen: Pen, each: int) -> list[Line]:
    rows: list[Line] = []
    for number, alarm in enumerate(shown):
        rest = more if number == len(shown) - 1 else 0
        rows += alarm_lines(replace(alarm, state=f"{alarm.state} (+{rest} more)") if rest > 0 else alarm, pen, each)
    return rows


_INDENT = " " * 3


def alarm_lines(alarm: AlarmFacts, pen: Pen, each: int) -> list[Line]:
    """What is wrong, then since when and what to do, each in at most `each` rows."""
    size, ellipsis = pen.width - len(_INDENT), pen.voice.ellipsis
    if each == 1:
        return _in_two_rows(alarm, size, ellipsis)
    stated = wrap_whole(alarm.statement, size, each, ellipsis)
    lines: list[Line] = [
        (Span(_INDENT if row else alarm.mark.ljust(len(_INDENT)), alarm.ink), Span(text, alarm.ink))
        for row, text in enumerate(stated)
    ]
    answer = wrap_whole(_with(alarm.state, alarm.remedy, "{}: {}") or alarm.remedy, size, each, ellipsis)
    return [*lines, *((Span(_INDENT), Span(text)) for text in answer)]


def _in_two_rows(alarm: AlarmFacts, size: int, ellipsis: str) -> list[Line]:
    """What is too long for its row is told in few words, so that what to do stands whole below it."""
    stated = "".join(wrap_whole(alarm.statement, size, 1, ellipsis))
    whole = not stated.endswith(ellipsis) or not alarm.remedy
    first = stated if whole else f"{alarm.brief} {alarm.state}"
    since = f"{alarm.state}: " if whole and alarm.state and alarm.remedy else ""
    remedy = "".join(wrap_whole(alarm.remedy, size - cells(since), 1, ellipsis))
    second = f"{since}{remedy}" if remedy else alarm.state
    rows = ((alarm.mark.ljust(len(_INDENT)), cut(first, size, ellipsis), alarm.ink), (_INDENT, second, Ink.PLAIN))
    return [(Span(mark, ink), Span(text, ink)) for mark, text, ink in rows if text]


def _verdict_or_alarm(facts: LaneFacts, pen: Pen, size: int) -> Line:
    """What matters most, in one row: the gravest alarm with its age, or how far the beer is."""
    if facts.alarms:
        alarm = facts.alarms[0]
        more = f" (+{len(facts.alarms) - 1})" if len(facts.alarms) > 1 else ""
        state = f" {alarm.state}{more}"
        whole = f"{alarm.mark} {alarm.statement}"
        if cells(whole + state) <= size:
            return Span(whole, alarm.ink), Span(state)
        brief = f"{alarm.mark} {alarm.brief}"
        if cells(brief + state) > size and alarm.began:
            state = f" {alarm.began}{more}"
        answer = f": {alarm.remedy}" if alarm.remedy and cells(brief + state) + 20 < size else ""
        return cut_line((Span(brief, alarm.ink), Span(state + answer)), size, pen.voice.ellipsis)
    if facts.probes_ink is Ink.FAINT and not facts.kept_quiet:
        return _words(facts, size, pen.voice)
    odd = cut_line(_probes(facts), size // 2, pen.voice.ellipsis)
    return ends(_words(facts, size - width(odd) - GAP, pen.voice), odd, size, pen.voice.ellipsis)


def _two_rows(lane: Lane, facts: LaneFacts, pen: Pen, called: Line) -> list[Line]:
    if pen.width < NARROW:
        return _two_narrow_rows(facts, pen)
    inner = pen.width
    who = min(max(inner // 5, pen.names), 26)
    rest = inner - who - 3 * GAP
    each = (rest - rest // 4) // 2
    curve = rest - 2 * each
    about = pen.voice.dot.join(part for part in (facts.day, facts.batch) if part)
    columns = [
        ([called], who),
        (
            [_with_reading(scale.strip, Span(scale.reading(facts, pen.voice), scale.pen_ink(facts)), facts, each, pen)],
            each,
        ),
        ([_with_reading(progress.bar, Span(progress.reading(facts, pen.voice), Ink.STRONG), facts, each, pen)], each),
        (chart.small(lane.last_day(pen.now), curve, 1, pen.voice, pen.glyphs), curve),
    ]
    right = inner - who - GAP
    under: list[tuple[list[Line], int]] = [([(Span(about),)], who), ([_verdict_or_alarm(facts, pen, right)], right)]
    return [*beside(columns, 1), *beside(under, 1)]


DrawRow = Callable[[LaneFacts, int, Glyphs], Line]


def _with_reading(draw_row: DrawRow, reading: Span, facts: LaneFacts, size: int, pen: Pen) -> Line:
    """An instrument's one row, with its reading at the right."""
    said = whole_words(reading.text, size // 2, pen.voice.ellipsis)
    room = max(size - max(cells(said), _READING) - 1, 4)
    return (*draw_row(facts, room, pen.glyphs), Span(" "), Span(said, reading.ink))


_READING = 8  # cells that most readings take, so that the scales below one another are as long
NARROW = 60


def _two_narrow_rows(facts: LaneFacts, pen: Pen) -> list[Line]:
    beer = Span(scale.reading(facts, pen.voice), scale.pen_ink(facts))
    readings = (beer, Span(pen.voice.dot, Ink.FAINT), Span(progress.reading(facts, pen.voice), Ink.STRONG))
    return [ends(_who(facts), readings, pen.width, pen.voice.ellipsis), _verdict_or_alarm(facts, pen, pen.width)]


def _one_row(facts: LaneFacts, pen: Pen) -> Line:
    inner = pen.width
    who = min(max(pen.names, 8), inner // 4)
    numbers, sweet = 8, 7
    beer = whole_words(scale.reading(facts, pen.voice), numbers)
    gravity = whole_words(progress.reading(facts, pen.voice), sweet)
    spans: list[tuple[list[Line], int]] = [([_who(facts)], who)]
    if inner >= NARROW:
        bar = min((inner - who) // 8, 24)
        spans += [([scale.strip(facts, bar, pen.glyphs)], bar)]
    spans += [([(Span(beer, scale.pen_ink(facts)),)], numbers)]
    if inner >= NARROW:
        spans += [([progress.bar(facts, bar, pen.glyphs)], bar)]
    spans += [([(Span(gravity, Ink.STRONG),)], sweet)]
    rest = inner - sum(size for _, size in spans) - GAP * len(spans)
    if rest >= 8:
        spans += [([_verdict_or_alarm(facts, pen, rest)], rest)]
    return beside(spans, 1)[0]
