"""The overview as lines: what is wrong, a lane for each fermenter, what needs hands next, and who is watching."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.feed import InPackage, Snapshot
from fermwatch.drawing import lanes
from fermwatch.drawing.glyphs import DRAWN, TYPED, Glyphs
from fermwatch.drawing.lanes import Form, Pen
from fermwatch.drawing.lines import EMPTY, GAP, Line, Span, cells, cut_line, ends, merge, width, wrap, wrap_whole
from fermwatch.saying import in_package, watch
from fermwatch.saying.facts import LaneFacts, alarm_facts, lane_facts
from fermwatch.saying.headline import headline
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import CANONICAL, Units, Voice, to_ascii, zone_of
from fermwatch.saying.watch import Said, Task

NEXT = "next  "
CURSOR = 2  # cells at the left for the cursor
TALLEST = 24
FORMS = (Form.TALL, Form.LANE, Form.PAIR, Form.LINE)
TALL_WIDTH = 100
LANE_WIDTH = 66
SITE_TROUBLES_SHOWN = 3
IN_PACKAGE_ROWS = 6
ROWS_OF_NOTHING = 4
ROWS_OF_MISTAKE = 5
ROWS_OF_NEXT = 3
LEAST_BESIDE = 8  # rows that the lanes and the watcher want before any for packages


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a page is drawn on and for whom."""

    width: int
    height: int
    ascii: bool = False
    units: Units = CANONICAL

    @property
    def glyphs(self) -> Glyphs:
        return TYPED if self.ascii else DRAWN

    def voice(self, snapshot: Snapshot) -> Voice:
        return Voice(self.units, self.ascii, zone_of(snapshot.timezone))


@dataclass(frozen=True, slots=True)
class Drawn:
    """Lines, and for each line the number of the lane or entry that it belongs to (-1 for none).

    picked: the owner that is to be seen where the page scrolls; -1 for none.
    """

    lines: tuple[Line, ...]
    owners: tuple[int, ...]
    picked: int = -1


def overview(snapshot: Snapshot, sheet: Sheet, selected: int) -> Drawn:
    """The whole page, exactly as high as the sheet. selected: the number of a lane; one beyond them the packages."""
    voice = sheet.voice(snapshot)
    top = [_header(snapshot, sheet, voice)]
    bottom, below = _bottom(snapshot, sheet, voice, selected)
    room = max(sheet.height - len(top) - len(bottom), 0)
    body, owners = _body(snapshot, sheet, voice, room, selected)
    if blank := room - len(body):
        bottom, below = _bottom(snapshot, sheet, voice, selected, min(blank + 1, ROWS_OF_NEXT))
        blank = max(sheet.height - len(top) - len(body) - len(bottom), 0)
    lines = showable([*top, *body, *[EMPTY] * blank, *bottom], sheet)
    kept = [-1] * len(top) + owners + [-1] * blank + below
    return Drawn(tuple(lines[: sheet.height]), tuple(kept[: sheet.height]))


def showable(lines: list[Line], sheet: Sheet) -> list[Line]:
    """The lines as this sheet can show them; what was cut short may have gained a sign that it cannot."""
    if not sheet.ascii:
        return lines
    return [tuple(Span(to_ascii(span.text), span.ink) for span in line) for line in lines]


def message(title: str, rows: list[str], sheet: Sheet, ink: Ink = Ink.STRONG) -> Drawn:
    """A page that says one thing, and the one next step."""
    size = sheet.width - 2 * CURSOR
    said: list[Line] = [*((Span(part, ink),) for part in wrap(title, size, ROWS_OF_MISTAKE)), EMPTY]
    said += [(Span(part),) for row in rows for part in (wrap(row, size, ROWS_OF_MISTAKE) or [""])]
    lines = [cut_line((Span(" " * CURSOR), *line), sheet.width) for line in (EMPTY, *said)]
    lines += [EMPTY] * (sheet.height - len(lines))
    return Drawn(tuple(lines[: sheet.height]), (-1,) * min(len(lines), sheet.height))


def _header(snapshot: Snapshot, sheet: Sheet, voice: Voice) -> Line:
    """What is worst, and when: units, zone, day and the site's name give way to it, in this order."""
    local = voice.local(snapshot.now)
    worst = headline(snapshot, voice)
    said, brief = ((Span(" " * CURSOR), *_said(one, strong=True)) for one in (worst.said, worst.said_briefly))
    named = (said[0], Span(voice.text(snapshot.site, 20), Ink.STRONG), Span("   "), *said[1:])
    units = f"{voice.dot}{voice.text(sheet.units.pair)}" if sheet.units != CANONICAL else ""
    zone, day = f" {voice.text(snapshot.timezone, 30)}", f"{local:%a} {local.day} {local:%b} "
    time = f"{local:%H:%M}"
    forms: tuple[tuple[Line, Line], ...] = (
        (named, (Span(f"{day}{time}"), Span(f"{zone}{units} ", Ink.FAINT))),
        (named, (Span(f"{day}{time}"), Span(f"{zone} ", Ink.FAINT))),
        (named, (Span(f"{day}{time}"),)),
        (named, (Span(time),)),
        (said, (Span(time),)),
        (brief, (Span(time),)),
    )
    wide = [(left, right) for left, right in forms if width(left) + width(right) + GAP < sheet.width]
    left, right = wide[0] if wide else forms[-1]
    return merge(ends(left, right, sheet.width, voice.ellipsis))


def _said(said: Said, *, strong: bool = False) -> Line:
    ink = Ink.STRONG if strong and said.ink is Ink.PLAIN else said.ink
    return (Span(f"{said.mark} {said.text}" if said.mark else said.text, ink),)


def _bottom(
    snapshot: Snapshot, sheet: Sheet, voice: Voice, selected: int, rows_of_next: int = 1
) -> tuple[list[Line], list[int]]:
    """The lines, and for each whether it belongs to the packages (as a lane of the number after the last)."""
    margin, packages = Span(" " * CURSOR), len(snapshot.lanes)
    troubles = watch.site_troubles(snapshot, voice)
    lines: list[Line] = [(margin, *_said(said)) for said in troubles[:SITE_TROUBLES_SHOWN]]
    owners = [-1] * len(lines)
    packaged = _in_package(snapshot, sheet, voice)
    if selected == packages and packaged:
        packaged[0] = (Span(sheet.glyphs.cursor.ljust(CURSOR), Ink.PICK), *packaged[0][1:])
    lines, owners = [*lines, *packaged], [*owners, *[packages] * len(packaged)]
    hands = watch.next_hands(snapshot, voice)
    if hands is not None:
        told = next_step(hands, snapshot.now, voice, sheet.width - CURSOR - cells(NEXT), rows_of_next)
        names = (NEXT, *[" " * len(NEXT)] * len(told))
        lines += [(margin, Span(name, Ink.FAINT), Span(row)) for name, row in zip(names, told, strict=False)]
    lines += _watcher(snapshot, sheet, voice)
    owners += [-1] * (len(lines) - len(owners))
    return [cut_line(line, sheet.width, voice.ellipsis) for line in lines], owners


def _watcher(snapshot: Snapshot, sheet: Sheet, voice: Voice) -> list[Line]:
    """A line; of a configuration with a mistake as many as its place and its remedy need."""
    said = watch.watcher_words(snapshot, voice)
    margin, (whole,) = Span(" " * CURSOR), _said(said)
    if not snapshot.mistake:
        return [(margin, Span(_fitting(whole.text, voice.dot, sheet.width - CURSOR), said.ink))]
    return [(margin, Span(row, said.ink)) for row in wrap(whole.text, sheet.width - CURSOR, ROWS_OF_MISTAKE)]


def _fitting(text: str, dot: str, size: int) -> str:
    """As many of its parts as there is room for, the first one in any case."""
    parts = text.split(dot)
    while len(parts) > 1 and cells(dot.join(parts)) > size:
        parts.pop()
    return dot.join(parts)


def next_step(task: Task, now: datetime, voice: Voice, size: int, rows: int = 1) -> list[str]:
    """In at most `rows` lines of `size` cells: the text gives way to its time, its last sentences first."""
    whole, when = task.whole(now, voice), task.when(now, voice)
    told = wrap(whole, size, rows + 1, voice.ellipsis)
    if len(told) <= rows or not when:
        return wrap_whole(whole, size, rows, voice.ellipsis)
    tail = f" ({when})"
    *before, last = wrap_whole(task.text, size - cells(tail), rows, voice.ellipsis)
    return [*before, f"{last.rstrip('.')}{tail}"]


def in_order(snapshot: Snapshot) -> list[InPackage]:
    """The packaged beers, those that need somebody first."""
    return sorted(snapshot.in_package, key=lambda one: not watch.unseen(one))


def _in_package(snapshot: Snapshot, sheet: Sheet, voice: Voice) -> list[Line]:
    """The beers that have left their fermenters, a line each, those that need somebody first with what they need."""
    room = min(max((sheet.height - LEAST_BESIDE) // 3, 1), IN_PACKAGE_ROWS)
    beers = in_order(snapshot)
    lines: list[Line] = []
    for number, one in enumerate(beers):
        told = _package_rows(one, snapshot, voice, sheet.width - CURSOR)
        left = len(beers) - number
        if len(lines) + len(told) + (left > 1) > room:
            told = told[:1] if len(lines) + 1 + (left > 1) <= room else []
        if not told:
            count = f"{left} more" if lines else f"{left} packaged beer{'' if left == 1 else 's'}"
            return [*lines, (Span(" " * CURSOR), Span(f"{count}: down, then enter", Ink.FAINT))]
        lines += told
    return lines


def _package_rows(one: InPackage, snapshot: Snapshot, voice: Voice, size: int) -> list[Line]:
    """Whole parts of what there is to say, where all of it would be too long."""
    parts = in_package.line(one, snapshot.now, voice).split(voice.dot)
    room = size - cells(one.packaging.noun) - 2 * GAP - 1
    for given_up in (parts[-1], *(part for part in parts if part.startswith("day "))):  # before its next date
        if len(parts) > 2 and cells(voice.dot.join(parts)) > room:
            parts.remove(given_up)
    text = voice.dot.join(parts)
    facts = [alarm_facts(alarm, snapshot.now, voice) for alarm in watch.unseen(one)]
    mark = (Span(f"{facts[0].mark} ", facts[0].ink),) if facts else ()
    rows: list[Line] = [(Span(" " * CURSOR), Span(f"{one.packaging.noun}  ", Ink.FAINT), *mark, Span(text))]
    if facts:
        said = " ".join(part for part in (f"{facts[0].statement}.", facts[0].remedy) if part)
        indent = " " * 8
        told = "".join(wrap_whole(said, size - len(indent), 1, voice.ellipsis))
        rows.append((Span(" " * CURSOR), Span(f"{indent}{told}", facts[0].ink)))
    return rows


def _body(snapshot: Snapshot, sheet: Sheet, voice: Voice, room: int, selected: int) -> tuple[list[Line], list[int]]:
    if not snapshot.lanes:
        nothing = _nothing_yet(snapshot, sheet)[:room]
        return nothing, [-1] * len(nothing)
    facts = [lane_facts(lane, snapshot.now, voice) for lane in snapshot.lanes]
    names = max(cells(f"!! {one.name}") for one in facts)
    beers = max(cells(one.batch) for one in facts)
    pen = Pen(voice, sheet.glyphs, snapshot.now, max(sheet.width - CURSOR - 1, 10), names, beers)
    form = choose_form(facts, sheet.width, room, pen)
    heights = _heights(facts, form, room, pen)
    shown = window(heights, room, selected)
    lines: list[Line] = []
    owners: list[int] = []
    for number in shown:
        drawn = lanes.draw(snapshot.lanes[number], facts[number], form, heights[number], pen)
        lines += _with_cursor(drawn, form, selected == number, sheet.glyphs)
        owners += [number] * len(drawn)
    if len(shown) < len(facts) and len(lines) < room:
        lines.append((Span(f"  {len(facts) - len(shown)} more: up and down", Ink.FAINT),))
        owners.append(-1)
    return lines, owners


def _nothing_yet(snapshot: Snapshot, sheet: Sheet) -> list[Line]:
    """The one next step: name a fermenter, or start the watcher that would tell of those that are named."""
    told = (
        (
            "Nothing is known of this cellar yet.",
            "Start `fermwatch watch`: it tells the store which fermenters there are.",
        )
        if snapshot.watcher is None
        else ("No fermenter yet.", "Name one, with its probes, in fermwatch.toml and restart the watcher.")
    )
    rows = [row for line in told for row in wrap(line, sheet.width - CURSOR, ROWS_OF_NOTHING)]
    return [EMPTY, *((Span(" " * CURSOR), Span(row)) for row in rows)]


def headed(said: Said, page: Drawn, sheet: Sheet) -> Drawn:
    """A page under one line more."""
    line = cut_line((Span(" " * CURSOR), *_said(said)), sheet.width)
    return Drawn((line, *page.lines), (-1, *page.owners))


def choose_form(facts: list[LaneFacts], width: int, room: int, pen: Pen) -> Form:
    """The largest form in which all lanes fit; the smallest one where none does."""
    for form in FORMS:
        wide_enough = width >= {Form.TALL: TALL_WIDTH, Form.LANE: LANE_WIDTH}.get(form, 0)
        if wide_enough and sum(lanes.heights(one, form, pen)[0] for one in facts) <= room:
            return form
    return Form.LINE


def _heights(facts: list[LaneFacts], form: Form, room: int, pen: Pen) -> list[int]:
    """Rows for each lane. What is left over goes to alarms that would be cut short, then to all alike."""
    choices = [lanes.heights(one, form, pen) for one in facts]
    heights = [choice[0] for choice in choices]
    spare = room - sum(heights)
    for number, choice in enumerate(choices):
        best = max(height for height in choice if height - choice[0] <= spare or height == choice[0])
        spare -= best - heights[number]
        heights[number] = best
    most = {Form.TALL: TALLEST, Form.LANE: 1, Form.PAIR: 1}.get(form, 0)
    share = min(max(spare, 0) // len(heights), most)
    return [height + share for height in heights]


def window(heights: list[int], room: int, selected: int) -> range:
    """Which lanes are shown: all of them where they fit; else the selected one and those beside it, and one row less
    for how many more there are."""
    if sum(heights) <= room:
        return range(len(heights))
    first = last = min(max(selected, 0), len(heights) - 1)
    used = heights[first]
    while True:
        if last + 1 < len(heights) and used + heights[last + 1] < room:
            last += 1
            used += heights[last]
        elif first > 0 and used + heights[first - 1] < room:
            first -= 1
            used += heights[first]
        else:
            return range(first, last + 1)


def _with_cursor(drawn: list[Line], form: Form, selected: bool, glyphs: Glyphs) -> list[Line]:
    """The cursor beside the lane's rows; beside a rule it would look like a corner."""
    rows: list[Line] = []
    for row, line in enumerate(drawn):
        beside_rule = form is Form.LANE and row == 0
        here = selected and not beside_rule and width(line) > 0
        rows.append(merge((Span(glyphs.cursor if here else " ", Ink.PICK), Span(" "), *line)))
    return rows
