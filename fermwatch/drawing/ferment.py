"""A ferment on one time axis, as on a chart recorder's paper: temperature in its band above, with what it was set to
and what was switched; gravity with its forecast below, what happened as signs, and the hours underneath; a cursor
through all of it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import Bucket
from fermwatch.drawing import curve, hours
from fermwatch.drawing.glyphs import Glyphs
from fermwatch.drawing.lines import Line, Span, cells
from fermwatch.model.amounts import points
from fermwatch.model.quantity import Quantity
from fermwatch.model.window import Window
from fermwatch.saying import at_instant, words
from fermwatch.saying.fan import Fan
from fermwatch.saying.ink import Ink
from fermwatch.saying.marks import Mark
from fermwatch.saying.measured import newest
from fermwatch.saying.set_to import plan_line
from fermwatch.saying.spells import bands_at
from fermwatch.saying.voice import Voice

LEAST_C = 3.0  # a scale no finer than this, so that a probe's noise does not look like news
LEAST_SG = 0.004
NEAR_C = 2.0  # beyond the scale: a plan that goes further is named at the edge
LEAST_PACE = 4.0  # points a day
LABEL = 7
FEWEST = 5  # rows: three for the curves, one for the marks and one for the hours
WITH_PHASES = 10  # rows: with as many there is room for the phases
WITH_OUTPUTS = 12  # rows: with as many there is room for what the controller switched
LITTLE = 0.02  # share of the time: less is not seen
CELLS_A_LABEL = 10  # of the axis
PACE_FROM = 22  # rows: with as many there is room for how fast gravity falls
Scale = tuple[float, float]
Cell = tuple[str, Ink]


@dataclass(frozen=True, slots=True)
class Ferment:
    """What is drawn. at: where the cursor stands; None where it is at now and is not drawn."""

    lane: Lane
    curves: Curves
    window: Window
    marks: tuple[Mark, ...]
    fan: Fan | None
    now: datetime
    at: datetime | None = None


class Raster:
    """Cells to be written over each other: what comes later is above."""

    def __init__(self, size: int, rows: int) -> None:
        self.size, self.rows = size, rows
        self._cells: list[list[Cell]] = [[(" ", Ink.PLAIN)] * size for _ in range(rows)]

    def put(self, x: int, y: int, sign: str, ink: Ink, *, under: bool = False) -> None:
        """under: only where nothing stands."""
        if 0 <= x < self.size and 0 <= y < self.rows and not (under and self._cells[y][x][0] != " "):
            self._cells[y][x] = (sign, ink)

    def strokes(self, drawn: Sequence[str], ink_at: Callable[[int], Ink]) -> None:
        for y, text in enumerate(drawn):
            for x, sign in enumerate(text):
                if sign != " ":
                    self.put(x, y, sign, ink_at(x))

    def write(self, x: int, y: int, text: str, ink: Ink) -> None:
        for place, sign in enumerate(text):
            self.put(x + place, y, sign, ink)

    def lines(self, labels: dict[int, str]) -> list[Line]:
        return [
            (Span(labels.get(y, "").rjust(LABEL) + " ", Ink.FAINT), *_spans(row)) for y, row in enumerate(self._cells)
        ]


def _spans(row: Sequence[Cell]) -> Iterator[Span]:
    """In few spans: cells of one ink joined, and blanks, which show none, to what is before them."""
    text, ink = "", Ink.PLAIN
    for sign, own in row:
        if own is not ink and sign != " ":
            if text:
                yield Span(text, ink)
            text, ink = "", own
        text += sign
    yield Span(text, ink)


def figure(picture: Ferment, width: int, rows: int, voice: Voice, glyphs: Glyphs) -> list[Line]:
    """Exactly `rows` lines, at least FEWEST."""
    size = max(width - LABEL - 1, 8)
    draw = _Drawing(picture, size, voice, glyphs)
    rows = max(rows, FEWEST)
    phases = draw.phases() if rows >= WITH_PHASES else []
    room = rows - 2 - len(phases)
    outputs = draw.outputs() if rows >= WITH_OUTPUTS else []
    room -= len(outputs)
    pace = draw.pace(room // 5) if room >= PACE_FROM else []
    beer_rows = _beer_rows(picture, room - len(pace))
    return [
        *draw.beer(beer_rows),
        *outputs,
        *draw.gravity(room - len(pace) - beer_rows),
        *pace,
        *phases,
        *draw.signs(),
        draw.axis(),
    ]


def regulated(picture: Ferment, width: int, rows: int, voice: Voice, glyphs: Glyphs) -> list[Line]:
    """Temperature alone, with what it was set to and what was switched, over the hours: exactly `rows` lines."""
    draw = _Drawing(picture, max(width - LABEL - 1, 8), voice, glyphs)
    outputs = draw.outputs()
    return [*draw.beer(max(rows - len(outputs) - 1, 1)), *outputs, draw.axis()]


def _beer_rows(picture: Ferment, room: int) -> int:
    """Most of the room for what there is to see; a row says what there is not."""
    if picture.lane.batch is None and not picture.curves.gravity:
        return room
    heard = newest(picture.lane.probes, Quantity.BEER_TEMPERATURE) is not None or picture.curves.beer
    return (room + 1) // 2 if heard else 1


class _Drawing:
    def __init__(self, picture: Ferment, size: int, voice: Voice, glyphs: Glyphs) -> None:
        self.picture, self.size, self.voice, self.glyphs = picture, size, voice, glyphs
        self.times = [picture.window.start + picture.window.length * (2 * x + 1) / (2 * size) for x in range(size)]
        self.bands = list(bands_at(picture.lane, self.times, picture.now))

    def column(self, at: datetime) -> int:
        return self.picture.window.column(at, self.size)

    def _strokes(self, data: Sequence[Bucket], rows: int, scale: Scale) -> list[str]:
        draw = curve.braille if self.glyphs.braille else curve.typed
        return draw(data, self.picture.window, self.size, rows, scale)

    def _shown(self, data: Sequence[Bucket]) -> list[Bucket]:
        return [one for one in data if 0 <= self.column(one.at) < self.size]

    def beer(self, rows: int) -> list[Line]:
        grid, shown = Raster(self.size, rows), self._shown(self.picture.curves.beer)
        edges = [edge for band in self.bands if band is not None for edge in (band.low_c, band.high_c)]
        set_to, planned = self._set_to(), plan_line(self.picture.lane, self.times, self.picture.now)
        bounds = _bounds([*edges, *(one for one in set_to if one is not None), *_ends(shown)], LEAST_C)
        bounds = self._with_plan(bounds, planned)
        if rows < 2 or bounds is None or not (shown or edges):
            heard = newest(self.picture.lane.probes, Quantity.BEER_TEMPERATURE) is not None
            grid.write(0, 0, "nothing heard of the beer here" if heard else "no thermometer on the beer", Ink.FAINT)
            return self._ruled(grid, {})
        labels = {0: self.voice.bare_temperature(bounds[1]), rows - 1: self.voice.bare_temperature(bounds[0])}
        for x, band in enumerate(self.bands):
            for edge in () if band is None else (band.low_c, band.high_c):
                y = _row(edge, bounds, rows)
                grid.put(x, y, self.glyphs.outside, Ink.FAINT)
                labels[y] = self.voice.bare_temperature(edge)
        self._plan(grid, planned, bounds)
        for x, aim in enumerate(set_to):
            if aim is not None:
                grid.put(x, _row(aim, bounds, rows), self.glyphs.set_to, Ink.PICK)
        grid.strokes(self._strokes(shown, rows, bounds), self._beer_inks(shown))
        labels[0] = f"{self.voice.degree_unit} {labels[0]}"
        return self._ruled(grid, labels)

    def _with_plan(self, bounds: Scale | None, planned: Sequence[float | None]) -> Scale | None:
        """A crash to come must not press what has been into two rows: what lies far off is named at the edge."""
        known = [aim for aim in planned if aim is not None]
        if bounds is None:
            return _bounds(known, LEAST_C)
        near = [aim for aim in known if bounds[0] - NEAR_C <= aim <= bounds[1] + NEAR_C]
        return min([bounds[0], *near]), max([bounds[1], *near])

    def _plan(self, grid: Raster, planned: Sequence[float | None], bounds: Scale) -> None:
        named = None
        for x, aim in enumerate(planned):
            if aim is None:
                continue
            if bounds[0] <= aim <= bounds[1]:
                grid.put(x, _row(aim, bounds, grid.rows), self.glyphs.plan, Ink.PICK)
            elif x + 1 == self.size or planned[x + 1] == aim != named:
                label, named = self.voice.temperature(aim), aim
                grid.write(min(x, self.size - cells(label)), _row(aim, bounds, grid.rows), label, Ink.PICK)

    def _set_to(self) -> list[float | None]:
        """The controller's set point, column by column."""
        found: list[float | None] = [None] * self.size
        drawn = curve.columns(self.picture.curves.set_point, self.picture.window, self.size)
        for x, ends in enumerate(drawn):
            found[x] = None if ends is None else ends[1]
        return found

    def outputs(self) -> list[Line]:
        """For which share of the time each output was on, a row of its own where there is one."""
        return [
            line
            for name, data in (("cool", self.picture.curves.cool), ("heat", self.picture.curves.heat))
            if data
            for line in self._output(name, data)
        ]

    def _output(self, name: str, data: Sequence[Bucket]) -> list[Line]:
        grid, levels = Raster(self.size, 1), self.glyphs.at_work
        for x, share in enumerate(curve.means(data, self.picture.window, self.size)):
            if share is not None and share >= LITTLE:
                grid.put(x, 0, levels[min(int(share * len(levels)), len(levels) - 1)], Ink.PLAIN)
        return self._ruled(grid, {0: name})

    def _beer_inks(self, shown: Sequence[Bucket]) -> Callable[[int], Ink]:
        """What is outside of where it should be is written stronger than what is within, and as a warning while an
        alarm stands."""
        standing = min(
            (one.since for one in self.picture.lane.alarms if one.needs_attention and one.since), default=None
        )
        inks: dict[int, Ink] = {}
        for bucket in shown:
            x = self.column(bucket.at)
            band = self.bands[x]
            if band is not None and band.side(bucket.mean) is not None:
                inks[x] = Ink.WARNING if standing is not None and bucket.at >= standing else Ink.STRONG
        return lambda x: inks.get(x, Ink.PLAIN)

    def gravity(self, rows: int) -> list[Line]:
        if rows < 1:
            return []
        grid, shown = Raster(self.size, rows), self._shown(self.picture.curves.gravity)
        hands = [
            one for one in self.picture.lane.measurements if not one.voided and 0 <= self.column(one.at) < self.size
        ]
        fan = list(self._fan())
        batch = self.picture.lane.batch
        pitched = [batch.original_sg] if batch is not None and 0 <= self.column(batch.pitched_at) < self.size else []
        values = [*pitched, *_ends(shown), *(one.gravity_sg for one in hands), *(sg for _, ways in fan for sg in ways)]
        bounds = _bounds(values, LEAST_SG)
        if bounds is None:
            if batch is not None:
                grid.write(0, rows // 2, "no gravity measured yet", Ink.FAINT)
            return self._ruled(grid, {})
        for x, (low, most, high) in fan:
            for y in range(_row(high, bounds, rows), _row(low, bounds, rows) + 1):
                grid.put(x, y, self.glyphs.uncertain, Ink.FAINT)
            grid.put(x, _row(most, bounds, rows), self.glyphs.rule, Ink.PLAIN)
        grid.strokes(self._strokes(shown, rows, bounds), lambda _: Ink.PLAIN)
        for one in hands:
            grid.put(self.column(one.at), _row(one.gravity_sg, bounds, rows), self.glyphs.reading, Ink.STRONG)
        unit = self.voice.gravity(bounds[1])
        labels = {rows - 1: self.voice.bare_gravity(bounds[0]), 0: unit if cells(unit) <= LABEL else unit[:LABEL]}
        return self._ruled(grid, labels)

    def _fan(self) -> Iterator[tuple[int, tuple[float, float, float]]]:
        fan = self.picture.fan
        for x, at in enumerate(self.times):
            if fan is not None and at >= self.picture.now:
                yield x, fan.at(at)

    def pace(self, rows: int) -> list[Line]:
        """How fast gravity falls, points a day: above the line it falls."""
        gravity = self.picture.curves.gravity
        moves = [(at, at_instant.pace_at(gravity, at)) for at in self.times if at <= self.picture.now]
        falls = [Bucket(at, 1, -pace, -pace, -pace) for at, pace in moves if pace is not None]
        if not falls:
            return []
        grid = Raster(self.size, rows)
        bounds = min([0.0, *(one.low for one in falls)]), max([LEAST_PACE, *(one.high for one in falls)])
        for x in range(self.size):
            grid.put(x, _row(0.0, bounds, rows), self.glyphs.outside, Ink.FAINT)
        grid.strokes(self._strokes(falls, rows, bounds), lambda _: Ink.PLAIN)
        return self._ruled(grid, {0: self._pace_label(bounds[1])})

    def _pace_label(self, points_per_day: float) -> str:
        number = self.voice.text(points(points_per_day, 0)).split(" ")[0]
        return f"{number}/day"

    def phases(self) -> list[Line]:
        """The present phase from when it began, and when it is most likely over."""
        judgement, grid = self.picture.lane.judgement, Raster(self.size, 1)
        if judgement is None or judgement.phase is None:
            return []
        first, last = max(self.column(judgement.phase.since), 0), min(self.column(self.picture.now), self.size - 1)
        for x in range(first, last + 1):
            grid.put(x, 0, self.glyphs.rule, Ink.FAINT)
        grid.write(first, 0, self.glyphs.low_edge, Ink.FAINT)
        word = f" {words.PHASE_WORDS[judgement.phase.phase]} "
        if last - first > cells(word) + 2:
            grid.write(first + 1, 0, word, Ink.PLAIN)
        fan = self.picture.fan
        if fan is not None and fan.low.done_at is not None and fan.high.done_at is not None:
            begin, end = self.column(fan.low.done_at), self.column(fan.high.done_at)
            for x in range(max(begin, last + 2), end + 1):
                grid.put(x, 0, self.glyphs.uncertain, Ink.FAINT)
            if self.size - begin > 5:
                grid.write(max(begin, last + 2), 0, "done ", Ink.PLAIN)
        return grid.lines({0: "phase"})

    def signs(self) -> list[Line]:
        grid = Raster(self.size, 1)
        for mark in self.picture.marks:
            here = self.picture.at is not None and self.column(mark.at) == self.column(self.picture.at)
            grid.put(self.column(mark.at), 0, mark.sign.letter, Ink.PICK if here else mark.ink)
        if self.picture.at is not None:
            grid.put(self.column(self.picture.at), 0, self.glyphs.hair, Ink.PICK, under=True)
        return grid.lines({0: "marks"})

    def axis(self) -> Line:
        most = max(self.size // CELLS_A_LABEL, hours.MOST_LABELS)
        drawn = hours.axis(self.picture.window, self.size, self.picture.now, self.voice, self.glyphs, most)
        return Span(" " * (LABEL + 1), Ink.FAINT), Span(drawn, Ink.FAINT)

    def _ruled(self, grid: Raster, labels: dict[int, str]) -> list[Line]:
        """With the cursor and now through it, behind what is drawn."""
        at, now = self.picture.at, self.column(self.picture.now)
        for y in range(grid.rows):
            if at is not None:
                grid.put(self.column(at), y, self.glyphs.hair, Ink.PICK, under=True)
            if now < self.size - 1:
                grid.put(now, y, self.glyphs.present, Ink.FAINT, under=True)
        return grid.lines(labels)


def _ends(shown: Sequence[Bucket]) -> list[float]:
    return [end for one in shown for end in (one.low, one.high)]


def _bounds(values: Sequence[float], least: float) -> Scale | None:
    if not values:
        return None
    low, high = min(values), max(values)
    missing = max(least - (high - low), 0.0) / 2
    return low - missing, high + missing


def _row(value: float, bounds: Scale, rows: int) -> int:
    """0 at the top."""
    low, high = bounds
    return min(max(int((high - value) / (high - low) * rows), 0), rows - 1)
