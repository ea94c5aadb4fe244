"""The lists and tables of a batch's page, each short enough for two sheets of paper."""

from collections.abc import Sequence
from datetime import datetime

from fermwatch.model.amounts import points
from fermwatch.model.batch import EventKind
from fermwatch.report.elements import Element, element
from fermwatch.report.story import WholeStory
from fermwatch.saying import words
from fermwatch.saying.at_instant import time_words
from fermwatch.saying.happened import act_words, measurement_words
from fermwatch.saying.marks import Mark, Sign
from fermwatch.saying.voice import Voice

MOST_MARKS, MOST_ROWS = 40, 12  # of a list: the rest would need a third sheet
LONGEST = 600  # characters of a sentence
LONGEST_MARK = 240
NOTED = {EventKind.NOTE, EventKind.OBSERVATION, EventKind.DIACETYL_TEST}


def of_marks(found: Sequence[Mark], story: WholeStory, voice: Voice) -> list[Element]:
    """The numbers are the picture's. Where there are too many, what people did goes before what was noticed."""
    numbered = list(enumerate(found, 1))
    kept = sorted(numbered, key=lambda one: (one[1].sign in {Sign.ALARM, Sign.PHASE}, one[0]))[:MOST_MARKS]
    items = [
        element(
            "li",
            element("b", f"{mark.sign.letter}{number}", **{"class": f"sign {mark.sign.name.lower()}"}),
            element("span", f"{time_words(mark.at, story.lane, voice)}: ", **{"class": "when"}),
            voice.text(mark.sentence, LONGEST_MARK),
        )
        for number, mark in sorted(kept, key=lambda one: one[0])
    ]
    return [element("ol", *items, **{"class": "two"}), *_more(len(found) - len(items))] if items else []


def of_measurements(story: WholeStory, voice: Voice) -> list[Element]:
    rows = []
    for one in story.lane.measurements:
        sample = "" if one.sample_temperature_c is None else voice.temperature(one.sample_temperature_c)
        read = "" if one.reading is None else f"{one.reading:g} {voice.text(one.unit, 20)}"
        corrected = voice.text(one.correction, 200)
        rows.append((when(one.at, voice), measurement_words(one, voice), read, sample, corrected))
    return _table(("when", "gravity", "as read", "sample", "corrected for"), rows)


def of_alarms(story: WholeStory, voice: Voice) -> list[Element]:
    """The longest first."""
    rows = []
    for one in sorted(story.standings, key=lambda each: each.lasted(story.now), reverse=True):
        name = words.RULE_WORDS.get(one.rule, one.rule.replace("-", " "))
        stood = words.age(one.lasted(story.now).total_seconds())
        over = stood if one.over_at is not None else f"{stood}, and still"
        rows.append((when(one.raised_at, voice), over, one.severity, f"{name}: {voice.text(one.said, LONGEST)}"))
    return _table(("raised", "stood for", "how grave", "what"), rows)


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


def of_notes(story: WholeStory, voice: Voice) -> list[Element]:
    told = [one for one in story.lane.events if one.kind in NOTED and not one.voided]
    items = [
        element(
            "li",
            element("span", f"{when(one.at, voice)} ", **{"class": "when"}),
            voice.text(act_words(one, story.now, voice), LONGEST),
        )
        for one in told[-MOST_ROWS:]
    ]
    return [element("ul", *items), *_more(len(told) - len(items))] if items else []


def _table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Element]:
    """Without the columns of which nothing is known; empty without rows."""
    shown = rows[:MOST_ROWS]
    columns = [place for place in range(len(header)) if any(row[place] for row in shown)]
    if not columns:
        return []
    head = element("tr", *(element("th", header[place]) for place in columns))
    body = [element("tr", *(element("td", row[place]) for place in columns)) for row in shown]
    return [element("table", head, *body), *_more(len(rows) - len(shown))]


def _more(count: int) -> list[Element]:
    return [element("p", f"And {count} more, which `fermwatch export` has.", **{"class": "dim"})] if count > 0 else []


def when(at: datetime, voice: Voice) -> str:
    local = voice.local(at)
    return f"{local.day} {local:%b %Y %H:%M}"


def day(at: datetime, voice: Voice) -> str:
    local = voice.local(at)
    return f"{local.day} {local:%b %Y}"
