"""The machine's clock is set while a watcher runs: no alarm comes of it, none is lost by it."""

from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.clock import Instant
from fermwatch.logbook import Logbook
from fermwatch.model.finding import Condition
from fermwatch.store.inbox import SqliteInbox
from fermwatch.store.writer import SqliteWriter
from tests.unit.store.samples import NOW
from tests.unit.test_logbook import MINUTE, alarm, go_on, opened_batch, stands

YEAR = timedelta(days=365)
HOT_C = 22.0  # above the samples' yeast by less than what is critical at once


@pytest.mark.parametrize("by", [YEAR, -YEAR, timedelta(hours=3), timedelta(hours=-3)])
def test_a_timer_neither_runs_out_nor_starts_over(writer: SqliteWriter, inbox: SqliteInbox, by: timedelta) -> None:
    book: Logbook = opened_batch(writer, inbox)
    now = go_on(book, NOW, 1.0, HOT_C)
    pending = alarm(writer)
    assert pending is not None
    assert pending.condition is Condition.PENDING
    book.clock_was_set(by, now + by)
    now = go_on(book, now + by, 0.5, HOT_C)
    assert not stands(writer)
    go_on(book, now, 1.0, HOT_C)
    assert stands(writer)


@pytest.mark.parametrize("by", [YEAR, -YEAR])
def test_it_is_no_silence(writer: SqliteWriter, inbox: SqliteInbox, by: timedelta) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 1.0, 19.0)
    book.clock_was_set(by, now + by)
    book.decide(now + by)
    assert not [one for one in writer.alarms() if one.rule == "probe-silent" and one.stands]
    book.decide(now + by + 60 * MINUTE)
    assert [one for one in writer.alarms() if one.rule == "probe-silent" and one.stands]


def test_it_is_in_the_journal(writer: SqliteWriter, inbox: SqliteInbox) -> None:
    book = opened_batch(writer, inbox)
    book.clock_was_set(timedelta(hours=1), NOW)
    assert [entry.text for entry in writer.journal(kind="watcher")] == ["the machine's clock was set by +3600 s"]


def test_a_jump_is_told_from_time_that_passed() -> None:
    noon = datetime(2026, 3, 1, 12, tzinfo=UTC)
    before = Instant(noon, 100.0)
    assert before.jump_until(Instant(noon + timedelta(seconds=61), 160.0)) == timedelta()
    assert before.jump_until(Instant(noon + timedelta(hours=1), 160.0)) == timedelta(minutes=59)
    assert before.jump_until(Instant(noon - timedelta(hours=1), 160.0)) == -timedelta(minutes=61)
