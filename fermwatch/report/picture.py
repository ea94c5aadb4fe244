"""The whole ferment as one picture in SVG: temperature above, gravity below, on one time axis, with numbered marks.

Colours and line styles are the page's (style.py): here every part bears the class that says what it is.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.store import Bucket
from fermwatch.report.axes import Axis, TimeAxis
from fermwatch.report.elements import Element, element
from fermwatch.report.hindsight import PastForecast
from fermwatch.report.page_tables import NumberedMarks
from fermwatch.report.story import WholeStory
from fermwatch.saying.fan import Fan, fan_of
from fermwatch.saying.set_to import plan_line
from fermwatch.saying.spells import bands_at
from fermwatch.saying.voice import Voice
from fermwatch.science.extract import SG_HIGH, SG_LOW, sg_to_plato

WIDTH, HEIGHT = 720.0, 372.0
LEFT, RIGHT = 44.0, 712.0
WARM_TOP, WARM_BOTTOM = 14.0, 150.0
MARKS_TOP, MARK_ROW, MARK_ROWS, ALARM_ROW = 155.0, 9.0, 3, 151.5
SWEET_TOP, SWEET_BOTTOM = 200.0, 346.0
GAP = timedelta(minutes=45)  # without a reading a curve is broken
SAMPLES = 180  # of a band or a forecast
LETTER_WIDTH = 4.8
MOST_FANS = 3
FAN_SHARE = 0.5  # of what was, how much of what is to come is drawn at most

Point = tuple[float, float]


def picture(story: WholeStory, marks: NumberedMarks, voice: Voice) -> Element:
    time = _time_axis(story)
    parts = [
        *_time_lines(time, voice),
        *_temperatures(story, time, voice),
        *_gravities(story, time, voice),
        *_mark_lines(marks, time),
        *_alarm_bars(story, time),
    ]
    told = (
        "Temperature and gravity of the whole ferment on one time axis, with its marks; the same stands below in words."
    )
    size = {
        "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}",
        "role": "img",
        "class": "ferment",
        "xmlns": "http://www.w3.org/2000/svg",
    }
    return element("svg", element("title", told), *parts, **size)


def _time_axis(story: WholeStory) -> TimeAxis:
    fan = _fan_to_come(story)
    end = story.until
    if fan is not None:
        end = max(end, min(fan.end, story.until + FAN_SHARE * (story.until - story.batch.pitched_at)))
    return TimeAxis(story.batch.pitched_at, end, LEFT, RIGHT)


def _fan_to_come(story: WholeStory) -> Fan | None:
    return fan_of(story.lane.judgement) if story.batch.in_fermenter else None


def _time_lines(time: TimeAxis, voice: Voice) -> Iterator[Element]:
    for midnight in time.midnights(voice.local):
        x = time.place(midnight)
        yield _line(x, WARM_TOP, x, SWEET_BOTTOM, "grid")
        yield _text(x, SWEET_BOTTOM + 11, f"{midnight.day} {midnight:%b}", "axis middle")


def _temperatures(story: WholeStory, time: TimeAxis, voice: Voice) -> Iterator[Element]:
    curves, times = story.curves, _samples(time, story.until)
    bands = [(at, band) for at, band in zip(times, bands_at(story.lane, times, story.until), strict=True) if band]
    wanted = [(at, celsius) for at, celsius in zip(times, plan_line(story.lane, times, story.until), strict=True)]
    shown = [voice.degrees(one) for bucket in curves.beer for one in (bucket.low, bucket.high)]
    shown += [voice.degrees(one) for _, band in bands for one in (band.low_c, band.high_c)]
    axis = Axis.over(shown or [voice.degrees(20.0)], least=6.0, margin=0.06, top=WARM_TOP, bottom=WARM_BOTTOM)
    yield from _frame(axis, WARM_TOP, WARM_BOTTOM, f"beer, {voice.degree_unit}", lambda value: f"{value:g}")

    def place(at: datetime, celsius: float) -> Point:
        return time.place(at), axis.place(voice.degrees(celsius))

    upper = [place(at, band.high_c) for at, band in bands]
    yield _area([*upper, *reversed([place(at, band.low_c) for at, band in bands])], "band")
    for stretch in _stretches(curves.beer, curves.window.span):
        upper = [place(one.at, one.high) for one in stretch]
        yield _area([*upper, *reversed([place(one.at, one.low) for one in stretch])], "spread")
    for stretch in _stretches(curves.set_point, curves.window.span):
        yield _way([place(one.at, one.mean) for one in stretch], "set")
    for run in _runs(wanted):
        yield _way([place(at, celsius) for at, celsius in run], "plan")
    for stretch in _stretches(curves.beer, curves.window.span):
        yield _way([place(one.at, one.mean) for one in stretch], "warm")
    if not curves.beer:
        yield _text(
            (LEFT + RIGHT) / 2, (WARM_TOP + WARM_BOTTOM) / 2, "no probe told the beer's temperature", "axis middle"
        )


def _gravities(story: WholeStory, time: TimeAxis, voice: Voice) -> Iterator[Element]:
    curves, batch = story.curves, story.batch
    measured = [one for one in story.lane.measurements if not one.voided and one.at <= time.end]
    ends = expected(batch, story.lane.events).ends_sg
    fans = _fans(story)
    values = [one.mean for one in curves.gravity] + [one.gravity_sg for one in measured] + [batch.original_sg, *ends]
    values += [one.fan.low.end_sg for one in fans]
    axis = Axis.over(
        [_scaled(one, voice) for one in values],
        least=0.01 if not voice.units.plato else 2.5,
        margin=0.05,
        top=SWEET_TOP,
        bottom=SWEET_BOTTOM,
    )
    unit = "°P" if voice.units.plato else "SG"
    form: Callable[[float], str] = _round if voice.units.plato else voice.bare_gravity
    yield from _frame(axis, SWEET_TOP, SWEET_BOTTOM, f"gravity, {unit}", form)

    def place(at: datetime, gravity_sg: float) -> Point:
        return time.place(at), axis.place(_scaled(gravity_sg, voice))

    low, high = (axis.place(_scaled(one, voice)) for one in ends)
    yield element(
        "rect", x=_n(LEFT), y=_n(high), width=_n(RIGHT - LEFT), height=_n(max(low - high, 1.0)), **{"class": "expected"}
    )
    if (coming := _fan_to_come(story)) is not None:
        yield from _fan(coming, coming.start, time.end, place, "coming")
    for one in fans:
        yield from _hindsight(one, time, place)
    for stretch in _stretches(curves.gravity, curves.window.span):
        yield _way([place(each.at, each.mean) for each in stretch], "sweet")
    for reading in measured:
        x, y = place(reading.at, reading.gravity_sg)
        spread = reading.sd_points / 1000.0
        bottom, top = (place(reading.at, reading.gravity_sg + sign * spread)[1] for sign in (-1.0, 1.0))
        yield _line(x, bottom, x, top, "hand")
        yield element(
            "circle", cx=_n(x), cy=_n(y), r="3", **{"class": "hand" if reading.level_known else "hand doubtful"}
        )


def _fans(story: WholeStory) -> list[PastForecast]:
    """Of the forecasts in hindsight, the first, the last and one between: more would hide each other."""
    known = list(story.past_forecasts)
    if len(known) <= MOST_FANS:
        return known
    return [known[0], known[len(known) // 2], known[-1]]


def _hindsight(one: PastForecast, time: TimeAxis, place: Callable[[datetime, float], Point]) -> Iterator[Element]:
    """Most likely, as a line; and between what it was to end, as a bar where it was to be over."""
    end = min(one.fan.most.done_at or one.fan.end, time.end)
    times = [one.at + (end - one.at) * step / 40 for step in range(41)]
    yield _way([place(at, one.fan.at(at)[1]) for at in times], "hindsight")
    x, low = place(end, one.fan.low.end_sg)
    _, high = place(end, one.fan.high.end_sg)
    if end < time.end:
        yield _line(x, low, x, high, "hindsight bar")
    begun, above = place(one.at, one.fan.from_sg)
    yield _text(begun + 3, above - 3, f"day {one.day}", "axis small")


def _fan(
    fan: Fan, start: datetime, end: datetime, place: Callable[[datetime, float], Point], kind: str
) -> Iterator[Element]:
    times = [start + (end - start) * step / 60 for step in range(61)]
    found = [(at, fan.at(at)) for at in times]
    lower, upper = [place(at, one[0]) for at, one in found], [place(at, one[2]) for at, one in found]
    yield _area([*upper, *reversed(lower)], kind)
    yield _way([place(at, one[1]) for at, one in found], f"{kind} most")


def _mark_lines(marks: NumberedMarks, time: TimeAxis) -> Iterator[Element]:
    """Each by its letter and number, in the first of the rows that has room; a line where none has."""
    taken = [0.0] * MARK_ROWS
    for text, mark in marks.named():
        if not time.start <= mark.at <= time.end:
            continue
        x = time.place(mark.at)
        yield _line(x, WARM_TOP, x, SWEET_BOTTOM, f"mark {mark.sign.name.lower()}")
        left = min(x, RIGHT - LETTER_WIDTH * len(text))
        row = next((row for row in range(MARK_ROWS) if taken[row] <= left), None)
        if row is not None:
            taken[row] = left + LETTER_WIDTH * (len(text) + 1)
            yield _text(left, MARKS_TOP + 8 + row * MARK_ROW, text, f"letter {mark.sign.name.lower()}")


def _alarm_bars(story: WholeStory, time: TimeAxis) -> Iterator[Element]:
    """Each as long as it stood; one that was over at once can be seen too."""
    for one in story.standings:
        if one.raised_at > time.end:
            continue
        left, right = time.place(one.raised_at), time.place(one.over_at or time.end)
        bar = {"class": "standing", "height": "2.5", "opacity": "0.75"}
        yield element("rect", x=_n(left), y=_n(ALARM_ROW), width=_n(max(right - left, 1.5)), **bar)


def _frame(axis: Axis, top: float, bottom: float, title: str, form: Callable[[float], str]) -> Iterator[Element]:
    for value in axis.ticks():
        y = axis.place(value)
        yield _line(LEFT, y, RIGHT, y, "grid")
        yield _text(LEFT - 4, y + 3, form(round(value, 6)), "axis end")
    yield element("rect", x=_n(LEFT), y=_n(top), width=_n(RIGHT - LEFT), height=_n(bottom - top), **{"class": "frame"})
    yield _text(LEFT, top - 4, title, "axis")


def _round(value: float) -> str:
    return f"{value:g}"


def _scaled(gravity_sg: float, voice: Voice) -> float:
    return sg_to_plato(min(max(gravity_sg, SG_LOW), SG_HIGH)) if voice.units.plato else gravity_sg


def _samples(time: TimeAxis, until: datetime) -> list[datetime]:
    """Of what was: what is to come stands in the forecast alone."""
    return [time.start + (until - time.start) * step / SAMPLES for step in range(SAMPLES + 1)]


def _stretches(curve: Sequence[Bucket], span: timedelta) -> Iterator[list[Bucket]]:
    """Broken where nothing was heard."""
    stretch: list[Bucket] = []
    for bucket in curve:
        if stretch and bucket.at - stretch[-1].at > max(GAP, 3 * span):
            yield stretch
            stretch = []
        stretch.append(bucket)
    if stretch:
        yield stretch


def _runs(wanted: Iterable[tuple[datetime, float | None]]) -> Iterator[list[tuple[datetime, float]]]:
    run: list[tuple[datetime, float]] = []
    for at, celsius in wanted:
        if celsius is not None:
            run.append((at, celsius))
        elif run:
            yield run
            run = []
    if run:
        yield run


def _way(points: Sequence[Point], kind: str) -> Element:
    if len(points) == 1:
        return element("circle", cx=_n(points[0][0]), cy=_n(points[0][1]), r="1", **{"class": f"dot {kind}"})
    return element("polyline", points=_points(points), **{"class": kind})


def _area(points: Sequence[Point], kind: str) -> Element:
    return element("polygon", points=_points(points), **{"class": kind})


def _points(points: Sequence[Point]) -> str:
    """What lies on the way between its neighbours is left out where it stands still."""
    kept = list(points[:1])
    for point, after in pairwise(points[1:]):
        if not kept[-1][1] == point[1] == after[1]:
            kept.append(point)
    kept.extend(points[1:][-1:])
    return " ".join(f"{x:g},{y:g}" for x, y in kept)


def _line(x1: float, y1: float, x2: float, y2: float, kind: str) -> Element:
    return element("line", x1=_n(x1), y1=_n(y1), x2=_n(x2), y2=_n(y2), **{"class": kind})


def _text(x: float, y: float, text: str, kind: str) -> Element:
    return element("text", text, x=_n(x), y=_n(y), **{"class": kind})


def _n(value: float) -> str:
    return f"{value:g}"
