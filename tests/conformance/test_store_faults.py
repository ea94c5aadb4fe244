"""The N-th failure of a store, for N = 1, 2, 3 ... until the call succeeds: each call is done whole or not at all.

The shape is SQLite's own (sqlite.org/testing.html, sections 3.2 and 3.3): fail at the N-th point, check, go on.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

import pytest

from fermwatch.contracts.store import JournalEntry, Latest, Writer
from fermwatch.errors import StoreError, StoreFull, StoreGone
from fermwatch.model.finding import Alarm, Condition
from fermwatch.model.judgement import Judgement
from tests.conformance.stores import StoreBench
from tests.support.samples import NOW, PROBES, VESSELS, batch, opening, reading

REQUEST = opening(batch())
ALARM = Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW)


@dataclass(frozen=True, slots=True)
class Call:
    name: str
    do: Callable[[Writer], object]
    every: int = 3  # steps of the backend between the points at which it may fail


CALLS = [
    Call("append", lambda writer: writer.append([reading(100 + n, message_id=n) for n in range(400)]), 60),
    Call("append late", lambda writer: writer.append([reading(n + 0.5, 21.0) for n in range(40)]), 30),
    Call("set_last_known", lambda writer: writer.set_last_known([Latest(2, NOW, 1.05, last_known=True)])),
    Call("mark_ahead", lambda writer: writer.mark_ahead(NOW + timedelta(minutes=30))),
    Call("save_alarms", lambda writer: writer.save_alarms([ALARM], [JournalEntry(NOW, "alarm", "a", "b")])),
    Call("save_judgement", lambda writer: writer.save_judgement("BATCH1", Judgement(NOW))),
    Call("apply", lambda writer: writer.apply(REQUEST, NOW)),
    Call("declare", lambda writer: writer.declare("Europe/Vienna", VESSELS[:1], PROBES[1:], NOW)),
]
each_call = pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)


def open_filled(stores: StoreBench) -> Writer:
    writer = stores.store().writer(NOW)
    writer.declare("UTC", VESSELS, PROBES, NOW)
    writer.append([reading(n) for n in range(60)])
    return writer


def contents_after(stores: StoreBench, call: Call) -> Sequence[str]:
    with open_filled(stores) as writer:
        call.do(writer)
        return stores.contents()


@each_call
def test_interrupted_anywhere_a_call_is_done_whole_or_not_at_all(
    stores: StoreBench, undisturbed: StoreBench, call: Call
) -> None:
    writer = open_filled(stores)
    before, after = stores.contents(), contents_after(undisturbed, call)
    assert before != after
    failures = 0
    while interrupted(stores, writer, call, failures + 1):
        failures += 1
        found = stores.contents()
        assert found in (before, after)
        if found == after:  # interrupted when all was done, on the way out of the commit
            break
    writer.close()
    assert failures > 0
    assert stores.contents() == after


def interrupted(stores: StoreBench, writer: Writer, call: Call, point: int) -> bool:
    """Do the call, the store failing at that point of it; False where it was done before the point came."""
    with stores.failing_at(point, call.every):
        try:
            call.do(writer)
        except StoreError:
            return True
    return False


@each_call
def test_however_little_room_there_is_nothing_is_half_done(stores: StoreBench, call: Call) -> None:
    writer = open_filled(stores)
    before = stores.contents()
    room = 0
    while refused(stores, writer, call, room):
        assert stores.contents() == before
        room += 1
    writer.close()
    if call.name == "append":
        assert room > 0


def refused(stores: StoreBench, writer: Writer, call: Call, room: int) -> bool:
    """Do the call with so much room; whether there was too little."""
    with stores.with_room_for(room):
        try:
            call.do(writer)
        except StoreFull:
            return True
    return False


@each_call
def test_another_program_that_writes_there_is_named_and_waited_out(stores: StoreBench, call: Call) -> None:
    writer = open_filled(stores)
    before = stores.contents()
    with stores.held_by_another(), pytest.raises(StoreError, match="is locked by another program"):
        call.do(writer)
    assert stores.contents() == before
    call.do(writer)
    assert stores.contents() != before
    writer.close()


@each_call
def test_what_was_taken_away_is_noticed_before_anything_is_said_to_be_kept(stores: StoreBench, call: Call) -> None:
    writer = open_filled(stores)
    before, trace = stores.contents(), stores.store().trace()
    with stores.taken_away():
        with pytest.raises(StoreGone, match="taken away"):
            writer.check_in_place()
        with pytest.raises(StoreGone, match="taken away"):
            writer.trouble()
        with pytest.raises(StoreGone, match="taken away"):
            call.do(writer)
        assert stores.store().trace() is None
        with pytest.raises(StoreGone):
            stores.store("elsewhere-too").writer(NOW, create=False)
    writer.check_in_place()
    assert (stores.contents(), stores.store().trace()) == (before, trace)
    call.do(writer)
    assert stores.contents() != before
    writer.close()
