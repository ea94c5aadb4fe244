"""What fails, ends or is changed in the logbook touches nothing else."""

from datetime import timedelta

import pytest

from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.contracts.store import SourceState, SourceStatus, Writer
from fermwatch.inbox.receiving import FileInbox
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch
from fermwatch.plain_data import to_plain
from fermwatch.requests import carrying_out
from fermwatch.rules import temperature
from fermwatch.watching.logbook import Logbook
from tests.support.samples import NOW, batch, event, measurement, opening, request
from tests.unit.watching.test_logbook import HOUR, MINUTE, alarm, begun, go_on, opened_batch, stands


def test_an_alarm_about_a_source_that_is_still_starting_outlives_the_start(writer: Writer, inbox: FileInbox) -> None:
    """It is configured, and no probe uses it yet; until it has said how it does, nobody knows it."""
    lost = ("source-lost", "source:spare")
    book = begun(writer, inbox)
    book.note_source(SourceStatus("spare", "mqtt", SourceState.UNAVAILABLE, "no broker", NOW))
    for minute in range(3):
        book.decide(NOW + minute * MINUTE)
    assert stands(writer, lost)
    again = Logbook(writer, inbox)
    again.begin(NOW + HOUR, ["spare"])
    assert stands(writer, lost)
    without = Logbook(writer, inbox)
    without.begin(NOW + HOUR, [])
    assert not stands(writer, lost)


def test_an_alarm_that_was_over_long_ago_leaves_the_store_and_stays_in_the_journal(
    writer: Writer, inbox: FileInbox
) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 3, 22.5)
    now = go_on(book, now, 3, 19.0)
    assert not stands(writer)
    book.decide(now + timedelta(days=29))
    assert alarm(writer) is not None
    book.decide(now + timedelta(days=31))
    assert alarm(writer) is None
    assert [one for one in writer.journal(kind="alarm", limit=500) if "temperature-high cleared" in one.text]


def test_what_is_said_of_one_batch_makes_no_other_judge_anew(writer: Writer, inbox: FileInbox) -> None:
    made: list[str] = []

    def make_judge(batch: Batch) -> Judge:
        made.append(batch.id)
        return Judge(batch)

    book = Logbook(writer, inbox, make_judge=make_judge)
    book.begin(NOW)
    for one in (batch("LEFT", "left"), batch("RIGHT", "right")):
        inbox.put(opening(one))
    book.attend(NOW)
    book.decide(NOW)
    assert sorted(made) == ["LEFT", "RIGHT"]
    made.clear()
    inbox.put(request(RequestKind.MEASURE, {"batch": "LEFT", "measurement": to_plain(measurement())}))
    inbox.put(request(RequestKind.EVENT, {"batch": "LEFT", "event": to_plain(event())}))
    inbox.put(request(RequestKind.VOID, {"id": "E1"}))
    book.attend(NOW)
    book.decide(NOW)
    assert made == []
    inbox.put(request(RequestKind.EDIT_BATCH, {"id": "LEFT", "changes": {"volume_l": 18.0}}))
    book.attend(NOW)
    book.decide(NOW)
    assert made == ["LEFT"]


def test_a_request_that_our_own_mistake_fails_is_answered_and_keeps_no_other_waiting(
    writer: Writer, inbox: FileInbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    def mistaken(*_: object) -> None:
        raise ZeroDivisionError

    broken = carrying_out.Handling(mistaken)  # type: ignore[arg-type]
    monkeypatch.setattr(carrying_out, "KINDS", {**carrying_out.KINDS, RequestKind.END_BATCH: broken})
    book = begun(writer, inbox)
    inbox.put(request(RequestKind.END_BATCH, {"id": "NONE"}))
    inbox.put(opening(batch()))
    refused, done = book.attend(NOW)
    assert refused.state is OutcomeState.REFUSED
    assert refused.reason.startswith("A mistake of fermwatch (ZeroDivisionError): nothing was done.")
    assert done.state is OutcomeState.DONE
    assert book.attend(NOW) == []


def test_a_rule_that_fails_leaves_the_others_to_speak(
    writer: Writer, inbox: FileInbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    def mistaken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(temperature, "median_of", mistaken)
    now = go_on(opened_batch(writer, inbox), NOW, 1, 19.0)
    assert stands(writer, ("not-judged", "vessel:left"))
    book = begun(writer, inbox, now)
    book.decide(now + HOUR)
    assert stands(writer, ("probe-silent", "probe:left-beer"))
