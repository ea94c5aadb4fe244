"""Whole ferments as a feed would answer for them: invented, with what people did and what was heard in between."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

from fermwatch.contracts.feed import (
    Answer,
    BatchAnswer,
    BatchQuery,
    Curves,
    CurvesAnswer,
    CurvesQuery,
    JournalAnswer,
    JournalQuery,
    Lane,
    Query,
)
from fermwatch.contracts.store import Bucket, ControllerStatus, JournalEntry
from fermwatch.dashboard.events import Happening
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.drawing.lines import plain, width
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.model.degree import Degree, Output
from fermwatch.model.plan import PlanProgress, plan_of
from fermwatch.model.window import Window
from fermwatch.saying.voice import CANONICAL, Units
from tests.dashboard.snapshots import NOW, healthy, hot, snapshot

DAY = timedelta(days=1)
AtDay = Callable[[float], float]


def heard(window: Window, since: datetime, at_day: AtDay, noise: float, *, until: datetime = NOW) -> tuple[Bucket, ...]:
    """A bucket a column, of what was so at each day since the pitch."""
    times = (window.start + window.span * number for number in range(window.columns))
    return tuple(
        Bucket(at, 9, value - noise, value + noise, value)
        for at in times
        if since <= at <= until
        for value in (at_day((at - since) / DAY),)
    )


def fallen(day: float) -> float:
    """Gravity of an ale that takes four days and a half."""
    return 1.012 + 0.040 / (1.0 + math.exp(1.9 * (day - 2.3)))


def was_hot(day: float) -> float:
    """Pitched at 19 °C, let run warm in the second night, and cooled."""
    return 19.0 + 4.6 * math.exp(-(((day - 2.1) / 0.45) ** 2)) + 0.3 * math.sin(day * 9.0)


def lane_with_a_story() -> Lane:
    lane = healthy()
    assert lane.batch is not None
    pitched_at = lane.batch.pitched_at
    return replace(
        lane,
        measurements=(
            GravityMeasurement("m1", pitched_at + 0.02 * DAY, 1.052),
            GravityMeasurement("m2", pitched_at + 3.2 * DAY, 1.020),
        ),
        events=(
            Event("e1", pitched_at + 2.2 * DAY, EventKind.NOTE, text="moved to the cellar floor, wet towel round it"),
            Event("e2", pitched_at + 3.4 * DAY, EventKind.DRY_HOP, {"grams": 60.0, "name": "green hop"}),
            Event("e3", pitched_at + 3.6 * DAY, EventKind.REST, {"target_c": 20.0}),
        ),
    )


def regulated_lane() -> Lane:
    """A fridge follows a plan: a warm rest on the second day, and a crash to come."""
    lane = lane_with_a_story()
    assert lane.batch is not None
    begun_at = lane.batch.pitched_at + 2.5 * DAY
    steps = plan_of("18C until 40%; 20C at 2C/day until steady and tested; 2C at 5C/day for 2 days", "warm rest")
    first, then = PlanProgress("", steps, 0, lane.batch.pitched_at), PlanProgress("", steps, 1, begun_at, 18.0)
    plan = [Event(f"p{at}", at, EventKind.PLAN, one.data()) for one in (first, then) for at in (one.begun_at,)]
    status = ControllerStatus("fridge", "left", Degree.SET, 20.0, 20.0, (Output.COOL,), NOW - timedelta(seconds=20))
    return replace(lane, events=(lane.events[0], *plan), controllers=(status,))


def set_to(day: float) -> float:
    return min(max(18.0, 18.0 + 2.0 * (day - 2.5)), 20.0)


def journal(lane: Lane) -> tuple[JournalEntry, ...]:
    assert lane.batch is not None
    began = lane.batch.pitched_at + 1.9 * DAY
    said = f"Beer {temperature(22.4)} is above the yeast's range"
    subject = f"vessel:{lane.vessel.slug}"
    return (
        JournalEntry(began + 0.7 * DAY, "alarm", subject, f"temperature-high cleared (warning): {said}"),
        JournalEntry(began, "alarm", subject, f"temperature-high raised (warning): {said}"),
    )


def answers(page: Fermenter, known: Known, *, beer: AtDay | None = was_hot, gravity: AtDay | None = fallen) -> Known:
    """What the store would answer to what the page wants."""
    lane = known.lane(page.vessel)
    assert lane is not None
    for query in page.wants(known):
        known = known.with_answer(_answer(query, lane, beer, gravity))
    return known


def curves_answer(query: CurvesQuery, lane: Lane) -> Answer:
    return _answer(query, lane, was_hot, fallen)


def _answer(query: Query, lane: Lane, beer: AtDay | None, gravity: AtDay | None) -> Answer:
    if isinstance(query, BatchQuery):
        return BatchAnswer(query, None, (GravityMeasurement("m1", NOW - 9 * DAY, 1.030),))
    if isinstance(query, JournalQuery):
        return JournalAnswer(query, journal(lane) if lane.batch is not None else ())
    assert isinstance(query, CurvesQuery)
    since = query.since or query.window.start
    return CurvesAnswer(
        query,
        Curves(
            query.window,
            heard(query.window, since, beer, 0.06) if beer else (),
            heard(query.window, since, gravity, 0.0003) if gravity else (),
            heard(query.window, since, set_to, 0.0) if lane.controllers else (),
            heard(query.window, since, lambda day: 0.35 + 0.3 * math.sin(day * 3.0), 0.0) if lane.controllers else (),
        ),
    )


def known_of(*lanes: Lane, typed: bool = False, units: Units = CANONICAL) -> Known:
    return Known(ascii=typed, units=units, snapshot=snapshot(*(lanes or (lane_with_a_story(), hot()))))


def after(page: Fermenter, known: Known, *events: Happening) -> Fermenter:
    for event in events:
        step = page.absorb(event, known)
        assert isinstance(step, Fermenter)
        page = step
    return page


def text(page: Fermenter, known: Known, columns: int, rows: int, **given: AtDay | None) -> str:
    drawn = page.draw(answers(page, known, **given), columns - 1, rows)
    assert max(width(line) for line in drawn.lines) <= columns - 1
    return "".join(f"{plain(line)}\n" for line in drawn.lines)
