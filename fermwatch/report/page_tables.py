"""The lists and tables of a batch's page, each short enough for two sheets of paper."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from fermwatch.model.amounts import points
from fermwatch.model.batch import Event, EventKind
from fermwatch.report.elements import Element, element
from fermwatch.report.story import WholeStory
from fermwatch.saying import words
from fermwatch.saying.at_instant import time_words
from fermwatch.saying.happened import act_words, measurement_words
from fermwatch.saying.marks import Mark, Sign
from fermwatch.saying.stood import Standing
from fermwatch.saying.voice import Voice

MOST_MARKS, MOST_ROWS = 24, 8  # of a list: the rest would need a third sheet
LONGEST = 600  # characters of a sentence
LONGEST_MARK = 1000
NOTED = {EventKind.NOTE, EventKind.OBSERVATION, EventKind.DIACETYL_TEST}


@dataclass(frozen=True, slots=True)
class NumberedMarks:
    """What happened, each by the number that it bears in the picture. Alarms are bars, and have a table."""

    all: tuple[Mark, ...]

    @classmethod
    def of(cls, found: Iterable[Mark]) -> "NumberedMarks":
        return cls(tuple(one for one in found if one.sign is not Sign.ALARM))

    def named(self) -> Iterator[tuple[str, Mark]]:
        return ((f"{mark.sign.letter}{number}", mark) for number, mark in enumerate(self.all, 1))

    def of_instants(self, sign: Sign, instants: Iterable[datetime]) -> Iterator[str]:
        """The name of each of these, in their order; empty where the picture does not have it."""
        named = [(mark.at, name) for name, mark in self.named() if mark.sign is sign]
        for at in instants:
            found = next((one for one in named if one[0] == at), None)
            if found is not None:
                named.remove(found)
            yield "" if found is None else found[1]


def of_marks(marks: NumberedMarks, story: WholeStory, voice: Voice) -> list[Element]:
    """All but what has a table of its own."""
    beside = set(marks.of_instants(Sign.MEASURED, (one.at for one in story.lane.measurements)))
    beside |= set(marks.of_instants(Sign.NOTED, (one.at for one in _noted(story))))
    listed = [(name, mark) for name, mark in marks.named() if name not in beside]
    items = [
        element(
            "li",
            element("b", name, **{"class": f"sign {mark.sign.name.lower()}"}),
            element("span", f"{time_words(mark.at, story.lane, voice)}: ", **{"class": "when"}),
            voice.text(mark.sentence, LONGEST_MARK),
        )
        for name, mark in listed[:MOST_MARKS]
    ]
    return [element("ol", *items, **{"class": "two"}), *_more(len(listed) - len(items))] if items else []


def of_measurements(marks: NumberedMarks, story: WholeStory, voice: Voice) -> list[Element]:
    rows = []
    measured = [one for one in story.lane.measurements if not one.voided]
    named = marks.of_instants(Sign.MEASURED, (one.at for one in measured))
    for one, mark in zip(measured, named, strict=True):
        sample = "" if one.sample_temperature_c is None else voice.temperature(one.sample_temperature_c)
        read = "" if one.reading is None else f"{_as_read(one.reading, one.unit)} {voice.text(one.unit, 20)}"
        corrected = voice.text(one.correction, 120)
        rows.append((mark, when(one.at, voice), measurement_words(one, voice), read, sample, corrected))
    return _table(("", "when", "gravity", "as read", "sample", "corrected for"), rows)


def _as_read(reading: float, unit: str) -> str:
    """1.010, and 1.0105 where somebody read so finely; 3.1 of another unit."""
    return f"{reading:.4f}".removesuffix("0") if unit == "SG" else f"{reading:g}"


def of_alarms(story: WholeStory, voice: Voice) -> list[Element]:
    """What stood longest first; what came again is one line."""
    rows = []
    for own in _by_alarm(story):
        last, longest = own[-1], max(one.lasted(story.now) for one in own)
        name = words.RULE_WORDS.get(last.rule, last.rule.replace("-", " "))
        stood = words.age(_seconds_in_all(own, story.now))
        over = stood if last.over_at is not None else f"{stood}, and still"
        times = "once" if len(own) == 1 else f"{len(own)} times, {words.age(longest.total_seconds())} at most"
        said = f"{name}, {last.severity}: {voice.text(last.said, LONGEST_MARK).removeprefix(name + ': ')}"
        rows.append((over, times, when(own[0].raised_at, voice), said))
    return _table(("stood for", "how often", "first", "what, as said last"), rows)


def _by_alarm(story: WholeStory) -> list[list[Standing]]:
    found: dict[tuple[str, str], list[Standing]] = {}
    for one in story.standings:
        found.setdefault((one.rule, one.subject), []).append(one)
    return sorted(found.values(), key=lambda own: -_seconds_in_all(own, story.now))


def _seconds_in_all(own: Iterable[Standing], now: datetime) -> float:
    return sum(one.lasted(now).total_seconds() for one in own)


def of_hindsight(story: WholeStory, voice: Voice) -> list[Element]:
    """As said again by today's judgement from what was known on each day; beside what came."""
    if not story.past_forecasts:
        return []
    rows = []
    for one in story.past_forecasts:
        fan, end = one.fan, story.ended
        ends = f"{voice.gravity(fan.most.end_sg)} ({voice.gravity_range(fan.low.end_sg, fan.high.end_sg)})"
        off = "" if end is None else _off(fan.most.end_sg, end.gravity_sg, voice)
        held = "" if end is None else "yes" if one.held(end.gravity_sg) else "no"
        done = _span_of_days(fan.low.done_at, fan.most.done_at, fan.high.done_at, voice)
        rows.append((f"day {one.day}", ends, off, held, done))
    header = ("on", "it would end at (90 % sure)", "off by", "held", "done by")
    return [element("p", _came(story, voice)), *_table(header, rows)]


def _came(story: WholeStory, voice: Voice) -> str:
    if story.ended is None:
        return "It is not at its end yet: nothing can be compared."
    done = ""
    if story.ended.done_at is not None:
        done = f"; its probe was within a point of its last from {when(story.ended.done_at, voice)} on"
    held = sum(one.held(story.ended.gravity_sg) for one in story.past_forecasts)
    return (
        f"It ended at {voice.gravity(story.ended.gravity_sg)} by {story.ended.by}{done}. Each forecast is made again, "
        f"of what was known on its day; {held} of {len(story.past_forecasts)} held."
    )


def _off(said_sg: float, came_sg: float, voice: Voice) -> str:
    off = round((said_sg - came_sg) * 1000.0, 1)
    side = "" if off == 0.0 else " too high" if off > 0.0 else " too low"
    return f"{voice.text(points(abs(off)))}{side}"


def _span_of_days(low: datetime | None, most: datetime | None, high: datetime | None, voice: Voice) -> str:
    if most is None:
        return ""
    between = f" ({day(low, voice)} to {day(high, voice)})" if low is not None and high is not None else ""
    return f"{day(most, voice)}{between}"


def of_notes(marks: NumberedMarks, story: WholeStory, voice: Voice) -> list[Element]:
    """The newest, which tell of the beer as it became."""
    told = list(zip(_noted(story), marks.of_instants(Sign.NOTED, (one.at for one in _noted(story))), strict=True))
    items = [
        element(
            "li",
            element("b", f"{mark} ", **{"class": "sign"}),
            element("span", f"{when(one.at, voice)} ", **{"class": "when"}),
            voice.text(act_words(one, story.now, voice), LONGEST_MARK),
        )
        for one, mark in told[-MOST_ROWS:]
    ]
    return [*_more(len(told) - len(items)), element("ol", *items, **{"class": "two"})] if items else []


def _noted(story: WholeStory) -> list[Event]:
    return [one for one in story.lane.events if one.kind in NOTED and not one.voided]


def _table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Element]:
    """Without the columns of which nothing is known; empty without rows."""
    shown = rows[-MOST_ROWS:]
    columns = [place for place in range(len(header)) if any(row[place] for row in shown)]
    if not columns:
        return []
    head = element("tr", *(element("th", header[place]) for place in columns))
    body = [element("tr", *(element("td", row[place]) for place in columns)) for row in shown]
    return [*_more(len(rows) - len(shown)), element("table", head, *body)]


def _more(count: int) -> list[Element]:
    return [element("p", f"{count} more are in `fermwatch export`.", **{"class": "dim"})] if count > 0 else []


def when(at: datetime, voice: Voice) -> str:
    local = voice.local(at)
    return f"{local.day} {local:%b %Y %H:%M}"


def day(at: datetime, voice: Voice) -> str:
    local = voice.local(at)
    return f"{local.day} {local:%b %Y}"
