"""The watcher's steps over a real store: take, attend, judge and decide, interrupted anywhere."""

import getpass
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Latest, SourceState, SourceStatus, StoredProbe, Writer
from fermwatch.errors import StoreError
from fermwatch.inbox.receiving import FileInbox, open_inbox
from fermwatch.ingest.conversion import convert
from fermwatch.ingest.pipeline import Intake
from fermwatch.judgement.judge import Judge
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.finding import Alarm, Condition, Phase
from fermwatch.model.probe import Calibration, Probe
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Flag, RawReading, Reading
from fermwatch.plain_data import to_plain
from fermwatch.watching.logbook import Logbook
from fermwatch.watching.timekeeper import Look
from tests.support.samples import NOW, PROBES, VESSELS, batch, beer_probe, measurement, opening, request
from tests.support.stores import open_writer

MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
HIGH = ("temperature-high", "vessel:left")


def begun(writer: Writer, inbox: FileInbox, now: datetime = NOW) -> Logbook:
    book = Logbook(writer, inbox)
    book.begin(now)
    return book


def said(at: datetime, value: float, series: int = 1, flags: Flag = Flag.GOOD) -> Intake:
    return Intake((Reading(series, to_ms(at), value, flags=flags),))


def go_on(book: Logbook, start: datetime, hours: float, celsius: float, series: int = 1) -> datetime:
    """A reading and a decision every five minutes; the instant after them."""
    now = start
    while now < start + hours * HOUR:
        book.take(said(now, celsius, series))
        book.decide(now)
        now += 5 * MINUTE
    return now


def alarm(writer: Writer, key: tuple[str, str] = HIGH) -> Alarm | None:
    return next((one for one in writer.alarms() if (one.rule, one.subject) == key), None)


def stands(writer: Writer, key: tuple[str, str] = HIGH) -> bool:
    found = alarm(writer, key)
    return found is not None and found.stands


def opened_batch(writer: Writer, inbox: FileInbox) -> Logbook:
    book = begun(writer, inbox)
    inbox.put(opening(batch()))
    (outcome,) = book.attend(NOW)
    assert outcome.state is OutcomeState.DONE
    return book


def test_heat_is_stored_as_an_alarm_and_in_the_journal(writer: Writer, inbox: FileInbox) -> None:
    go_on(opened_batch(writer, inbox), NOW, 3, 22.5)
    assert stands(writer)
    (entry,) = [one for one in writer.journal(kind="alarm") if "temperature-high" in one.text]
    assert "raised (warning)" in entry.text
    assert "22.5 °C" in plain(entry.text)


def test_a_judge_at_work_hears_each_reading_as_it_comes_in(writer: Writer, inbox: FileInbox) -> None:
    """It was told the past when it began; what is stored from then on, it is told then."""
    book, now = opened_batch(writer, inbox), NOW
    for minutes in range(0, 48 * 60, 30):
        now = NOW + minutes * MINUTE
        gravity = round(1.050 - 0.0004 * minutes / 60, 4)
        book.take(Intake((Reading(1, to_ms(now), 19.0), Reading(2, to_ms(now), gravity))))
        book.decide(now)
    heard = writer.judgement(batch().id)
    assert heard is not None
    assert heard.trend is not None
    assert heard.trend.measured_at is not None
    assert now - heard.trend.measured_at <= 3 * HOUR
    assert heard.phase is not None
    assert heard.phase.phase is Phase.ACTIVE


def test_begun_anew_after_every_reading_it_says_the_same(tmp_path: Path) -> None:
    told: list[Sequence[str]] = []
    for name, every in (("steady", False), ("killed", True)):
        with open_writer(tmp_path / name, "home", NOW, ballast_bytes=4096) as writer:
            writer.declare("UTC", VESSELS, PROBES, NOW)
            inbox = open_inbox(tmp_path / name, "home")
            book = opened_batch(writer, inbox)
            now = NOW
            for celsius, hours in ((20.0, 1), (22.2, 3), (20.5, 1.2), (24.0, 1), (19.0, 2)):
                end = now + hours * HOUR
                while now < end:
                    book = begun(writer, inbox, now) if every else book
                    book.take(said(now, celsius))
                    book.decide(now)
                    now += 5 * MINUTE
            told.append([f"{entry.at} {entry.text}" for entry in writer.journal(limit=1000, kind="alarm")])
            inbox.close()
    assert told[0] == told[1]
    assert len(told[0]) >= 3


class FailsOnce:
    """A writer of which one call fails the first time, before or after it is done."""

    def __init__(self, writer: Writer, call: str) -> None:
        self._writer, self._call, self._failed = writer, call, False

    def __getattr__(self, name: str) -> object:
        found = getattr(self._writer, name)
        if name != self._call or self._failed:
            return found

        def fail(*_: object) -> None:
            self._failed = True
            raise StoreError("The disk is full.")

        return fail


@pytest.mark.parametrize("call", ["append", "set_last_known"])
def test_a_commit_that_failed_half_way_and_is_tried_again_stores_nothing_twice(
    writer: Writer, inbox: FileInbox, call: str
) -> None:
    book = Logbook(FailsOnce(writer, call), inbox)  # type: ignore[arg-type]
    book.begin(NOW)
    both = replace(said(NOW, 19.4), last_known=(Latest(2, NOW, 1.05, last_known=True),))
    with pytest.raises(StoreError):
        book.take(both)
    book.take(both)
    assert [one.value for one in writer.readings(1, NOW - HOUR, NOW + HOUR)] == [19.4]
    assert writer.latest()[2].last_known


def test_what_people_ask_is_done_once_also_where_the_inbox_could_not_forget_it(
    writer: Writer, inbox: FileInbox, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = begun(writer, inbox)
    inbox.put(opening(batch()))
    with monkeypatch.context() as broken:
        broken.setattr(inbox, "drop", lambda _id: (_ for _ in ()).throw(StoreError("The disk is full.")))
        with pytest.raises(StoreError):
            book.attend(NOW)
    begun(writer, inbox).attend(NOW)
    assert list(inbox.waiting()) == []
    assert [one.id for one in writer.batches()] == ["BATCH1"]
    assert len([one for one in writer.journal(kind="request") if "opened" in one.text]) == 1


def test_an_acknowledgement_holds_through_the_next_decisions(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 3, 22.5)
    inbox.put(request(RequestKind.ACKNOWLEDGE, {"rule": HIGH[0], "subject": HIGH[1]}))
    assert [outcome.state for outcome in book.attend(now)] == [OutcomeState.DONE]
    go_on(book, now, 1, 22.5)
    found = alarm(writer)
    assert found is not None
    assert found.acknowledged_by == getpass.getuser()
    assert not found.needs_attention


def test_what_cannot_be_done_is_refused_with_its_reason(writer: Writer, inbox: FileInbox) -> None:
    book = begun(writer, inbox)
    inbox.put(request(RequestKind.ACKNOWLEDGE, {"rule": HIGH[0], "subject": HIGH[1]}))
    (outcome,) = book.attend(NOW)
    assert outcome.state is OutcomeState.REFUSED
    assert outcome.reason


def test_alarms_about_a_probe_that_left_the_configuration_end_at_the_next_start(
    writer: Writer, inbox: FileInbox
) -> None:
    silent = Alarm("probe-silent", "probe:right-beer", Condition.RAISED, raised_at=NOW, occurrence=1)
    stays = Alarm("probe-silent", "probe:left-beer", Condition.RAISED, raised_at=NOW, occurrence=1)
    writer.save_alarms([silent, stays], [])
    writer.declare("UTC", VESSELS, PROBES[:2], NOW)
    begun(writer, inbox)
    assert not stands(writer, ("probe-silent", "probe:right-beer"))
    assert stands(writer, ("probe-silent", "probe:left-beer"))


def test_the_second_probe_is_heard_when_the_first_has_died(writer: Writer, inbox: FileInbox) -> None:
    writer.declare("UTC", VESSELS, (*PROBES, beer_probe("left-wall")), NOW)
    numbers = {one.probe.slug: one.series for one in writer.series()}
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 1, 19.0, numbers["left-beer"])
    go_on(book, now, 9, 23.0, numbers["left-wall"])
    assert stands(writer)


def test_what_means_nothing_is_told_once_and_judged_by_never(
    writer: Writer, inbox: FileInbox, caplog: pytest.LogCaptureFixture
) -> None:
    book = opened_batch(writer, inbox)
    for minute in range(300):
        now = NOW + minute * MINUTE
        book.take(said(now, 85.0, flags=Flag.POWER_ON_CODE))
        book.decide(now)
    assert not stands(writer)
    assert caplog.text.count("85.0 °C means that the probe measured nothing; it is kept") == 1
    assert stands(writer, ("probe-fault", "probe:left-beer"))
    assert "wiring" in caplog.text


def test_readings_are_judged_calibrated_and_stored_as_read(writer: Writer, inbox: FileInbox) -> None:
    probes = (beer_probe(calibration=Calibration(offset=3.0)), *PROBES[1:])
    writer.declare("UTC", VESSELS, probes, NOW)
    go_on(opened_batch(writer, inbox), NOW, 3, 19.5)
    found = alarm(writer)
    assert found is not None
    assert "22.5 °C" in plain(found.statement)
    assert {one.value for one in writer.readings(1, NOW - HOUR, NOW + 9 * HOUR)} == {19.5}


def test_a_source_is_journalled_when_its_state_changes_and_not_otherwise(writer: Writer, inbox: FileInbox) -> None:
    book = begun(writer, inbox)
    status = SourceStatus("board", "serial-line", SourceState.CONNECTED, "the port", NOW)
    for readings in range(5):
        book.note_source(replace(status, readings=readings))
    book.note_source(replace(status, state=SourceState.UNAVAILABLE, detail="There is no port."))
    texts = [entry.text for entry in writer.journal(kind="source")]
    assert sorted(texts) == ["connected: the port", "unavailable: There is no port."]
    assert writer.sources()[0].detail == "There is no port."


def packing(at: datetime = NOW) -> Request:
    event = Event("PACKED", at, EventKind.PACKAGED, {"package": "soda-pet", "volumes": 2.4, "sugar_g_per_l": 6.0})
    return request(RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event)})


def test_a_watcher_killed_before_it_drew_the_consequences_of_a_packaging_draws_them(
    writer: Writer, inbox: FileInbox
) -> None:
    now = go_on(opened_batch(writer, inbox), NOW, 3, 22.5)
    assert stands(writer)
    asked = packing(now)
    inbox.put(asked)
    (waits,) = inbox.waiting()
    assert waits is not None
    assert writer.apply(waits, now).state is OutcomeState.DONE  # and there it was killed
    begun(writer, inbox, now).attend(now)
    over = alarm(writer)
    assert over is not None
    assert not over.stands
    assert not over.unseen


def test_a_packaged_beer_is_judged_once_and_not_again_at_every_start(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 7, 20.0)
    inbox.put(packing(now))
    book.attend(now)
    book.decide(now)
    judged = writer.judgement("BATCH1")
    assert judged is not None
    assert judged.phase is not None
    assert judged.phase.phase is Phase.PACKAGED
    made: list[Batch] = []

    def make(batch: Batch) -> Judge:
        made.append(batch)
        return Judge(batch)

    again = Logbook(writer, inbox, make_judge=make)
    again.begin(now + HOUR)
    again.decide(now + HOUR)
    assert made == []
    inbox.put(request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}))
    again.attend(now + HOUR)
    again.decide(now + HOUR)
    assert len(made) == 1  # something more was said of the time before
    assert writer.judgement("BATCH1") != judged


def test_what_is_heard_after_the_packaging_is_not_about_the_packaged_beer(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 7, 20.0)
    inbox.put(packing(now))
    book.attend(now)
    book.decide(now)
    before = writer.judgement("BATCH1")
    next_beer = replace(batch("BATCH2"), pitched_at=now + 5 * MINUTE)
    inbox.put(opening(next_beer))
    assert [one.state for one in book.attend(now + 10 * MINUTE)] == [OutcomeState.DONE]
    for minutes in range(0, 200, 5):  # a float in the sink, and a fridge that is empty and cold
        book.take(said(now + minutes * MINUTE, 0.5))
        book.take(said(now + minutes * MINUTE, 1.000, series=2))
    book.decide(now + 10 * MINUTE)
    assert writer.judgement("BATCH1") == before
    assert not stands(writer, ("near-freezing", "vessel:left"))


def test_an_empty_fermenter_may_be_cold(writer: Writer, inbox: FileInbox) -> None:
    book = opened_batch(writer, inbox)
    now = go_on(book, NOW, 3, 20.0)
    inbox.put(packing(now))
    book.attend(now)
    go_on(book, now, 6, 0.2)
    assert [one.rule for one in writer.alarms() if one.stands] == []


def test_a_reading_of_a_time_to_come_hides_no_silence(writer: Writer, inbox: FileInbox) -> None:
    book = begun(writer, inbox)
    book.take(said(NOW, 19.0))
    book.take(said(NOW + 10 * HOUR, 19.0))
    book = begun(writer, inbox, NOW + MINUTE)
    book.decide(NOW + HOUR)
    assert stands(writer, ("probe-silent", "probe:left-beer"))
    rows = writer.readings(1, NOW, NOW + 20 * HOUR)
    assert [row.flags for row in rows] == [Flag.GOOD, Flag.AHEAD]
    assert writer.latest()[1].at == NOW


@pytest.mark.parametrize("hours", [4.0, 30.0])
def test_readings_of_a_time_to_come_are_of_now_after_all_once_the_clock_has_moved_there(
    writer: Writer, inbox: FileInbox, hours: float
) -> None:
    there = NOW + hours * HOUR
    begun(writer, inbox).take(Intake(tuple(Reading(1, to_ms(there) + n * 60_000, 19.0 + n) for n in range(3))))
    before = writer.buckets(1, NOW, there + HOUR, 60)
    book = begun(writer, inbox)
    assert (writer.latest(), writer.buckets(1, NOW, there + HOUR, 60)) == ({}, [])
    later = there + HOUR
    book.time_is(Look(later, moved=later - NOW, news=("the clock is believed",)))
    assert writer.latest()[1].value == 21.0
    assert writer.buckets(1, NOW, there + HOUR, 60) == before


@pytest.mark.parametrize(
    ("unit", "quantity", "number", "rule", "asked"),
    [
        (Unit.CELSIUS, Quantity.BEER_TEMPERATURE, 66.2, "probe-fault", "reads 66.2: is this °F?"),
        (Unit.FAHRENHEIT, Quantity.BEER_TEMPERATURE, 19.0, "probe-fault", "reads 19: is this °C?"),
        (Unit.PLATO, Quantity.GRAVITY, 1.048, "gravity-implausible", "reads 1.048: is this SG?"),
    ],
)
def test_a_wrong_unit_calls_for_whoever_can_mend_it(
    writer: Writer, inbox: FileInbox, unit: Unit, quantity: Quantity, number: float, rule: str, asked: str
) -> None:
    odd = Probe("odd", "left", quantity, "board", "x", unit)
    series = writer.declare("UTC", VESSELS, [odd], NOW)["odd"]
    bindings = {("board", "x"): StoredProbe(series, odd)}
    book = begun(writer, inbox)
    for minute in range(0, 90, 3):
        now = NOW + minute * MINUTE
        row = convert("board", RawReading("x", number, now), bindings).reading
        assert row is not None
        book.take(Intake((row,)))
        book.decide(now)
    found = alarm(writer, (rule, "probe:odd"))
    assert found is not None
    assert found.stands
    assert asked in found.statement
    assert 'set unit = "' in found.statement
