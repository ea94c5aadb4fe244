"""The machine's clock is set while a watcher runs: no alarm comes of it, none is lost by it."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.alarms.life import shift
from fermwatch.clock import Instant, ManualClock
from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import FileInbox
from fermwatch.model.finding import Alarm, Condition
from fermwatch.watching.logbook import Logbook
from fermwatch.watching.timekeeper import BELIEVED_AFTER_S, Look, Timekeeper
from tests.support.samples import NOW
from tests.unit.watching.test_logbook import MINUTE, alarm, go_on, opened_batch, said, stands

YEAR = timedelta(days=365)
HOT_C = 22.0  # above the samples' yeast by less than what is critical at once


@pytest.mark.parametrize("by", [YEAR, -YEAR, timedelta(hours=3), timedelta(hours=-3)])
def test_a_timer_neither_runs_out_nor_starts_over(writer: Writer, inbox: FileInbox, by: timedelta) -> None:
    book: Logbook = opened_batch(writer, inbox)
    now = go_on(book, NOW, 1.0, HOT_C)
    pending = alarm(writer)
    assert pending is not None
    assert pending.condition is Condition.PENDING
    book.time_is(Look(now + by, moved=by))
    now = go_on(book, now + by, 0.5, HOT_C)
    assert not stands(writer)
    go_on(book, now, 1.0, HOT_C)
    assert stands(writer)


def test_a_clock_set_back_before_the_pitch_hides_no_heat(writer: Writer, inbox: FileInbox) -> None:
    """As a beer that was just pitched, it would be left alone while it moves toward its range: for a year."""
    book = opened_batch(writer, inbox)
    now = NOW - YEAR
    book.time_is(Look(now, moved=-YEAR))
    for step in range(24):
        book.take(said(now + step * 5 * MINUTE, 30.0 - step * 0.01))
        book.decide(now + step * 5 * MINUTE)
    found = alarm(writer)
    assert found is not None
    assert found.stands
    assert found.suppressed_by == ""


@pytest.mark.parametrize("by", [YEAR, -YEAR])
def test_it_is_no_silence(writer: Writer, inbox: FileInbox, by: timedelta) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 1.0, 19.0)
    book.time_is(Look(now + by, moved=by))
    book.decide(now + by)
    assert not [one for one in writer.alarms() if one.rule == "probe-silent" and one.stands]
    book.decide(now + by + 60 * MINUTE)
    assert [one for one in writer.alarms() if one.rule == "probe-silent" and one.stands]


def test_it_is_in_the_journal(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    book.time_is(Look(NOW, ahead=timedelta(hours=1), news=("the machine's clock was set by +3600 s",)))
    assert [entry.text for entry in writer.journal(kind="watcher")] == ["the machine's clock was set by +3600 s"]


@pytest.mark.parametrize("by", [YEAR, -YEAR, timedelta(hours=3), timedelta(hours=-3)])
def test_what_is_heard_while_the_clock_is_not_believed_is_no_silence_and_no_gap(
    writer: Writer, inbox: FileInbox, by: timedelta
) -> None:
    """Readings stand under the wall's time, decisions go on by the time that was."""
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 1.0, HOT_C)
    end = now + timedelta(hours=2)
    while now < end:
        book.time_is(Look(now, ahead=by))
        book.take(said(now + by, HOT_C))
        book.decide(now)
        now += 5 * MINUTE
    assert not [one for one in writer.alarms() if one.rule == "probe-silent" and one.stands]
    assert stands(writer)  # two hours hot, one before the jump and one after it


def test_how_bad_it_is_of_an_alarm_that_stands_is_moved_too() -> None:
    worse = Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW, raised_at=NOW, worse_since=NOW)
    moved = shift(worse, YEAR)
    assert moved.worse_since == NOW + YEAR
    assert (moved.since, moved.raised_at) == (NOW, NOW)


def test_a_jump_is_told_from_time_that_passed() -> None:
    before = Instant(NOW, 100.0, 100.0)
    assert before.jump_until(Instant(NOW + timedelta(seconds=61), 160.0, 160.0)) == timedelta()
    assert before.jump_until(Instant(NOW + timedelta(hours=1), 160.0, 160.0)) == timedelta(minutes=59)
    assert before.jump_until(Instant(NOW - timedelta(hours=1), 160.0, 160.0)) == -timedelta(minutes=61)


def keeper() -> tuple[ManualClock, Timekeeper]:
    clock = ManualClock(NOW)
    return clock, Timekeeper(clock)


def test_deciding_time_goes_on_while_a_new_time_is_not_believed_and_moves_once_it_is() -> None:
    clock, time = keeper()
    clock.advance(10)
    clock.set(YEAR)
    look = time.look()
    assert (look.now, look.ahead, look.moved) == (NOW + timedelta(seconds=10), YEAR, timedelta())
    assert len(look.news) == 1
    clock.advance(BELIEVED_AFTER_S - 1)
    assert (time.look().moved, time.look().news) == (timedelta(), ())
    clock.advance(1)
    look = time.look()
    assert (look.now, look.ahead, look.moved) == (clock.now(), timedelta(), YEAR)


def test_a_sawtooth_moves_nothing() -> None:
    clock, time = keeper()
    for turn in range(200):
        clock.advance(30)
        clock.set(timedelta(hours=-1 if turn % 2 else 1))
        look = time.look()
        assert look.moved == timedelta()
        assert abs(look.now - (NOW + timedelta(seconds=30 * (turn + 1)))) < timedelta(seconds=1)


def test_a_sleep_is_believed_at_once() -> None:
    clock, time = keeper()
    clock.advance(10)
    clock.sleep(timedelta(hours=8))
    look = time.look()
    assert (look.now, look.ahead, look.moved) == (clock.now(), timedelta(), timedelta(hours=8))
    assert look.news == ("the machine slept for 8 h: nothing was heard meanwhile",)


@given(st.lists(st.tuples(st.floats(0, 4000), st.floats(-1e6, 1e6), st.booleans()), max_size=30))
def test_deciding_time_never_runs_ahead_of_the_time_that_passed(steps: list[tuple[float, float, bool]]) -> None:
    clock, time = keeper()
    before = time.look().now
    for passed, jump, sleeps in steps:
        clock.advance(passed)
        if sleeps:
            clock.sleep(timedelta(seconds=abs(jump)))
        else:
            clock.set(timedelta(seconds=jump))
        look = time.look()
        assert abs(look.now - look.moved - before - timedelta(seconds=passed)) <= timedelta(seconds=2.01)
        before = look.now
