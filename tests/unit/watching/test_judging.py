"""Judges sit apart: nobody waits for them, and nothing is said that rests on less than it should."""

from array import array
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import replace
from datetime import datetime, timedelta
from typing import ParamSpec, TypeVar

import pytest

from fermwatch.contracts.inbox import RequestKind
from fermwatch.contracts.store import Reader, Writer
from fermwatch.errors import StoreError
from fermwatch.inbox.receiving import FileInbox
from fermwatch.judgement.following import Notes
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.plain_data import to_plain
from fermwatch.watching.logbook import Logbook
from tests.support.samples import NOW, batch, measurement, opening, reading, request
from tests.unit.watching.test_logbook import HOUR, alarm, opened_batch, said, stands

P = ParamSpec("P")
T = TypeVar("T")
DAY = timedelta(days=1)
Work = Callable[[], None]


class Slow(Executor):
    """Does nothing before it is told to."""

    def __init__(self) -> None:
        self._waiting: list[Work] = []

    def submit(self, function: Callable[P, T], /, *arguments: P.args, **named: P.kwargs) -> Future[T]:
        future: Future[T] = Future()
        self._waiting.append(lambda: future.set_result(function(*arguments, **named)))
        return future

    @property
    def asked(self) -> int:
        return len(self._waiting)

    def do_all(self) -> None:
        waiting, self._waiting = self._waiting, []
        for work in waiting:
            work()


def round_of(book: Logbook, now: datetime) -> None:
    """As a watcher goes on, that waits for no judge."""
    for _ in book.making_ready(now):
        pass
    book.tell_judges(now)
    for _ in book.deciding(now):
        pass


def judged(writer: Writer, identity: str = "BATCH1") -> Judgement:
    found = writer.judgement(identity)
    assert found is not None
    return found


def verdict(writer: Writer) -> Verdict:
    found = judged(writer).verdict
    assert found is not None
    return found


def begun_again(writer: Writer, inbox: FileInbox, now: datetime) -> tuple[Logbook, Slow]:
    slow = Slow()
    book = Logbook(writer, inbox, judging=slow)
    book.begin(now)
    return book, slow


def test_alarms_and_what_was_said_before_wait_for_no_judge(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    book.take(said(NOW, 20.0))
    book.decide(NOW + 4 * HOUR)
    before = judged(writer)
    again, _ = begun_again(writer, inbox, NOW + 5 * HOUR)
    for minutes in range(0, 180, 5):
        at = NOW + 5 * HOUR + minutes * HOUR / 60
        again.take(said(at, 24.0))
        round_of(again, at)
    assert stands(writer)
    assert judged(writer) == before


def test_what_is_read_while_a_judge_is_told_the_past_it_is_told_too(writer: Writer, inbox: FileInbox) -> None:
    opened_batch(writer, inbox).decide(NOW)
    book, slow = begun_again(writer, inbox, NOW)
    end = NOW + 36 * HOUR
    for hour in range(36):
        at = NOW + hour * HOUR
        book.take(said(at, 1.050 - 0.0005 * hour, series=2))
        if hour == 12:
            past = book.making_ready(at)
            next(past)  # some of it is read
        elif hour == 18:
            list(past)  # and now the rest
        elif hour == 24:
            slow.do_all()
    for _ in range(3):
        round_of(book, end)
        slow.do_all()
    round_of(book, end)
    kept = judged(writer)
    told_all_at_once = Logbook(writer, inbox)
    told_all_at_once.begin(end)
    told_all_at_once.decide(end)
    assert kept.trend is not None
    assert judged(writer) == kept


def test_a_past_that_changes_while_it_is_read_is_read_anew(writer: Writer, inbox: FileInbox) -> None:
    opened_batch(writer, inbox).decide(NOW)
    for hour in range(36):
        writer.append([reading(60.0 * hour, 1.050 - 0.0005 * hour, series=2)])
    end = NOW + 36 * HOUR
    book, slow = begun_again(writer, inbox, end)
    past = book.making_ready(end)
    next(past)
    book._judges.hear_anew()
    list(past)
    assert not slow.asked, "what was read until then is no past to be judged by"
    for _ in range(3):
        round_of(book, end)
        slow.do_all()
    round_of(book, end)
    assert judged(writer).trend is not None


def test_no_judge_begins_before_all_have_been_told(writer: Writer, inbox: FileInbox) -> None:
    """While one judges, the store's thread gets on slowly: whoever waits for that would wait the longer."""
    opened_batch(writer, inbox)
    writer.apply(opening(batch("OTHER", "right")), NOW)
    book, slow = begun_again(writer, inbox, NOW + HOUR)
    for _ in book.making_ready(NOW + HOUR):
        assert not slow.asked
    assert slow.asked == 2


def test_a_batch_whose_readings_the_store_refuses_keeps_no_other_from_being_judged(
    writer: Writer, inbox: FileInbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened_batch(writer, inbox)
    writer.apply(opening(batch("OTHER", "right")), NOW)
    believed = writer.believed

    def refusing(series: int, start: datetime, end: datetime) -> "tuple[array[int], array[float]]":
        if series == 1:
            raise StoreError("The disk does not give it back.")
        return believed(series, start, end)

    monkeypatch.setattr(writer, "believed", refusing)
    book, slow = begun_again(writer, inbox, NOW + 4 * HOUR)
    with pytest.raises(StoreError, match="does not give it back"):
        list(book.making_ready(NOW + 4 * HOUR))
    slow.do_all()
    list(book.deciding(NOW + 4 * HOUR))
    assert writer.judgement("OTHER") is not None
    assert writer.judgement("BATCH1") is None


def test_until_a_note_is_judged_nothing_is_safe_and_nobody_is_called(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    book.decide(NOW + 4 * HOUR)
    safe = replace(judged(writer), verdict=Verdict(VerdictKind.SAFE, NOW, sentence="It is done."))
    writer.save_judgement("BATCH1", safe)
    book, slow = begun_again(writer, inbox, NOW + 5 * HOUR)
    round_of(book, NOW + 5 * HOUR)
    assert verdict(writer).kind is VerdictKind.SAFE  # as of then: nothing was said since
    inbox.put(request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}))
    book.attend(NOW + 5 * HOUR)
    round_of(book, NOW + 5 * HOUR)
    assert verdict(writer).kind is VerdictKind.NOT_YET
    assert verdict(writer).sentence.startswith("Being judged")
    assert alarm(writer, ("not-judged", "batch:BATCH1")) is None
    for _ in range(3):
        slow.do_all()
        round_of(book, NOW + 5 * HOUR)
    assert not verdict(writer).sentence.startswith("Being judged")
    trend = judged(writer).trend
    assert trend is not None
    assert trend.measured_by == "hydrometer"


@pytest.mark.parametrize("part", ["add_measurement", "judge_at_once"])
def test_a_judge_that_fails_says_so_and_the_others_are_judged(
    writer: Writer, inbox: FileInbox, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    class Broken(Judge):
        pass

    def mistaken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(Broken, part, mistaken)
    book = Logbook(writer, inbox, make_judge=lambda one: (Broken if one.id == "LEFT" else Judge)(one))
    book.begin(NOW)
    for one in (batch("LEFT", "left"), batch("RIGHT", "right")):
        inbox.put(opening(one))
    inbox.put(request(RequestKind.MEASURE, {"batch": "LEFT", "measurement": to_plain(measurement())}))
    book.attend(NOW)
    for hours in range(3):
        book.decide(NOW + hours * HOUR)
    held = judged(writer, "LEFT").verdict
    assert held is not None
    assert held.kind is VerdictKind.HOLD
    assert held.reasons == ("not judged: ZeroDivisionError",)
    assert stands(writer, ("not-judged", "batch:LEFT"))
    assert judged(writer, "RIGHT").verdict is not None
    monkeypatch.undo()
    inbox.put(request(RequestKind.VOID, {"id": "M1"}))
    book.attend(NOW + 3 * HOUR)
    book.decide(NOW + 3 * HOUR)
    assert not stands(writer, ("not-judged", "batch:LEFT"))


def test_what_is_taken_back_of_one_batch_lets_no_other_be_told_again(
    writer: Writer, inbox: FileInbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Logbook(writer, inbox)
    book.begin(NOW)
    for one in (batch("LEFT", "left"), batch("RIGHT", "right")):
        inbox.put(opening(one))
    inbox.put(request(RequestKind.MEASURE, {"batch": "LEFT", "measurement": to_plain(measurement())}))
    book.attend(NOW)
    book.decide(NOW)
    told: list[str] = []
    notes_of = Notes.of

    def noted(reader: Reader, one: Batch) -> Notes:
        told.append(one.id)
        return notes_of(reader, one)

    monkeypatch.setattr(Notes, "of", noted)
    inbox.put(request(RequestKind.VOID, {"id": "M1"}))
    book.attend(NOW)
    book.decide(NOW)
    assert told == ["LEFT"]


def test_what_is_corrected_of_an_earlier_batch_is_told_to_the_judges_of_later_ones(
    writer: Writer, inbox: FileInbox
) -> None:
    book = Logbook(writer, inbox)
    book.begin(NOW)
    earlier = replace(batch("BEFORE"), pitched_at=NOW - 30 * DAY)
    last = replace(measurement("LAST"), at=NOW - 12 * DAY, gravity_sg=1.013)
    packed = Event("PACKED", NOW - 10 * DAY, EventKind.PACKAGED, {"package": "soda-pet", "volumes": 2.4})
    inbox.put(opening(earlier))
    inbox.put(request(RequestKind.MEASURE, {"batch": "BEFORE", "measurement": to_plain(last)}))
    inbox.put(request(RequestKind.EVENT, {"batch": "BEFORE", "event": to_plain(packed)}))
    inbox.put(opening(replace(batch("NOW"), pitched_at=NOW - 3 * DAY)))
    inbox.put(request(RequestKind.MEASURE, {"batch": "NOW", "measurement": to_plain(measurement("FIRST"))}))
    book.attend(NOW)
    book.decide(NOW)
    assert rests_on(writer) == "your last batch with this yeast ended at 74 %"
    right = replace(last, id="RIGHT", gravity_sg=1.011)
    inbox.put(request(RequestKind.VOID, {"id": "LAST"}))
    inbox.put(request(RequestKind.MEASURE, {"batch": "BEFORE", "measurement": to_plain(right)}))
    book.attend(NOW)
    book.decide(NOW)
    assert rests_on(writer) == "your last batch with this yeast ended at 78 %"


def rests_on(writer: Writer) -> str:
    forecast = judged(writer, "NOW").forecast
    assert forecast is not None
    return forecast.rests_on
