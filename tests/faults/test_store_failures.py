"""The N-th failure of SQLite, for N = 1, 2, 3 ... until the call succeeds: each call is done whole or not at all.

The shape is SQLite's own (sqlite.org/testing.html, sections 3.2 and 3.3): fail at the N-th point, check, go on.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from fermwatch.contracts.store import JournalEntry, Latest
from fermwatch.errors import StoreError, StoreFull
from fermwatch.model.finding import Alarm, Condition
from fermwatch.store.sqlite.writer import SqliteWriter, open_writer
from tests.unit.store.samples import NOW, PROBES, VESSELS, batch, opening, reading

REQUEST = opening(batch())
ALARM = Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW)


@dataclass(frozen=True, slots=True)
class Call:
    name: str
    do: Callable[[SqliteWriter], object]
    every: int = 3  # steps of SQLite's machine between the points at which it may fail


CALLS = [
    Call("append", lambda writer: writer.append([reading(100 + n, message_id=n) for n in range(400)]), 60),
    Call("append late", lambda writer: writer.append([reading(n + 0.5, 21.0) for n in range(40)]), 30),
    Call("set_last_known", lambda writer: writer.set_last_known([Latest(2, NOW, 1.05, last_known=True)])),
    Call("save_alarms", lambda writer: writer.save_alarms([ALARM], [JournalEntry(NOW, "alarm", "a", "b")])),
    Call("apply", lambda writer: writer.apply(REQUEST, NOW)),
    Call("declare", lambda writer: writer.declare("Europe/Vienna", VESSELS[:1], PROBES[1:], NOW)),
]
each_call = pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)


def open_filled(directory: Path) -> SqliteWriter:
    writer = open_writer(directory, "home", NOW)
    writer.declare("UTC", VESSELS, PROBES, NOW)
    writer.append([reading(n) for n in range(60)])
    return writer


def everything(directory: Path) -> list[str]:
    """The store as SQL, through a connection of its own; also looks whether it is sound."""
    connection = sqlite3.connect(directory / "home.db")
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    dump = list(connection.iterdump())
    connection.close()
    return dump


@each_call
def test_interrupted_anywhere_a_call_is_done_whole_or_not_at_all(tmp_path: Path, call: Call) -> None:
    writer = open_filled(tmp_path)
    before, after = everything(tmp_path), everything_after(tmp_path / "undisturbed", call)
    assert before != after
    failures = 0
    while interrupted(writer, call, failures + 1):
        failures += 1
        found = everything(tmp_path)
        assert found in (before, after)
        if found == after:  # interrupted when all was done, on the way out of COMMIT
            break
    writer.close()
    assert failures > 0
    assert everything(tmp_path) == after


def interrupted(writer: SqliteWriter, call: Call, point: int) -> bool:
    """Do the call, SQLite being stopped at that point of it; False where it was done before the point came."""
    looks = 0

    def is_the_point() -> bool:
        nonlocal looks
        looks += 1
        return looks == point

    writer._connection.set_progress_handler(is_the_point, call.every)
    try:
        call.do(writer)
    except StoreError:
        return True
    finally:
        writer._connection.set_progress_handler(None, 0)
    return False


def everything_after(directory: Path, call: Call) -> list[str]:
    with open_filled(directory) as writer:
        call.do(writer)
        return everything(directory)


@each_call
def test_at_any_page_at_which_the_disk_is_full_nothing_is_half_done(tmp_path: Path, call: Call) -> None:
    """SQLite's own limit of pages gives a true SQLITE_FULL, at every page that the call needs."""
    writer = open_filled(tmp_path)
    writer._ballast.spend()
    writer._ballast.present = True  # readings may try, but there is nothing to give up
    before = everything(tmp_path)
    (pages,) = writer._connection.execute("PRAGMA page_count").fetchone()
    most, failures = pages, 0
    while True:
        writer._connection.execute(f"PRAGMA max_page_count = {most}")
        try:
            call.do(writer)
            break
        except StoreFull:
            assert everything(tmp_path) == before
            writer._ballast.present = True
            most, failures = most + 1, failures + 1
    writer.close()
    if call.name == "append":
        assert failures > 0


@each_call
def test_another_program_that_holds_the_lock_is_named_and_waited_out(tmp_path: Path, call: Call) -> None:
    writer = open_filled(tmp_path)
    writer._connection.execute("PRAGMA busy_timeout = 20")
    before = everything(tmp_path)
    intruder = sqlite3.connect(tmp_path / "home.db", isolation_level=None)
    intruder.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreError, match="is locked by another program"):
        call.do(writer)
    assert everything(tmp_path) == before
    intruder.execute("ROLLBACK")
    intruder.close()
    call.do(writer)
    assert everything(tmp_path) != before
    writer.close()
