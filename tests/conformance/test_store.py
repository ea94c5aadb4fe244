from dataclasses import fields, replace
from datetime import timedelta

import pytest

from fermwatch.contracts.kept import Appended
from fermwatch.contracts.store import (
    ControllerStatus,
    JournalEntry,
    Latest,
    Reader,
    SourceState,
    SourceStatus,
    WatcherStatus,
    Writer,
)
from fermwatch.errors import StoreError
from fermwatch.model.amounts import plain, temperature
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Alarm, Condition, Evidence, Phase, Severity, VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Trend, Verdict
from fermwatch.model.probe import Binding, Calibration, Probe
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Flag, Reading
from fermwatch.model.telling import NotifierStatus, Told, Why
from fermwatch.saying.voice import US, Voice
from tests.conformance.stores import StoreBench
from tests.support.samples import NOW, NOW_MS, PROBES, VESSELS, batch, beer_probe, opening, reading

FAR = NOW + timedelta(days=365)
LONG_AGO = NOW - timedelta(days=365)


def stored(reader: Reader, series: int = 1) -> list[Reading]:
    return list(reader.readings(series, LONG_AGO, FAR))


def test_what_is_promised_is_what_is_there(writer: Writer, reader: Reader) -> None:
    promised: tuple[Writer, Reader] = writer, reader
    assert promised[0].site() == promised[1].site() == ("home", "Europe/Vienna")


def test_readings_come_back_in_time_order_with_all_they_carry(writer: Writer, reader: Reader) -> None:
    late = reading(-30, 19.5, lag_ms=1_800_000, sequence=7, flags=Flag.CLOCK_UNSURE)
    odd = reading(1, 85.0, flags=Flag.POWER_ON_CODE | Flag.IMPLAUSIBLE)
    assert writer.append([reading(0), odd, late]) == Appended(stored=3, duplicates=0)
    assert stored(reader) == [late, reading(0), odd]


def test_the_end_of_a_range_is_not_part_of_it(writer: Writer) -> None:
    writer.append([reading(0), reading(1)])
    assert list(writer.readings(1, NOW, NOW + timedelta(minutes=1))) == [reading(0)]


@pytest.mark.parametrize(
    ("first", "second", "rows"),
    [
        pytest.param(reading(0), reading(0), 2, id="two equal ones without device time or sequence are two"),
        pytest.param(
            reading(0), reading(0, redelivered=True), 2, id="said to be delivered again, but nothing tells which"
        ),
        pytest.param(reading(0), reading(0, 21.0, redelivered=True), 2, id="another value is another reading"),
        pytest.param(reading(0, sequence=5), reading(0, sequence=5), 1, id="the same sequence"),
        pytest.param(reading(0, sequence=5), reading(0, sequence=6), 2, id="another sequence"),
        pytest.param(reading(0, sequence=5), reading(3, sequence=5), 1, id="the same sequence, received later"),
        pytest.param(reading(0, sequence=5), reading(3, 21.0, sequence=5), 2, id="the same sequence, another value"),
        pytest.param(reading(0, sequence=5), reading(60, sequence=5), 2, id="a board that counts anew"),
        pytest.param(
            reading(0, sequence=5, message_id=1), reading(3, sequence=5, message_id=2), 1, id="sent in two messages"
        ),
        pytest.param(
            reading(0, sequence=5, message_id=1),
            reading(60, sequence=5, message_id=1, redelivered=True),
            1,
            id="the same sequence, delivered again much later",
        ),
        pytest.param(
            reading(0, message_id=7), reading(0, message_id=8, redelivered=True), 2, id="two messages of one instant"
        ),
        pytest.param(reading(0, lag_ms=50), reading(0, lag_ms=900), 1, id="the same device time"),
        pytest.param(reading(0), reading(1, redelivered=True), 2, id="another instant"),
        pytest.param(reading(0), reading(0, series=3), 1, id="another series"),
        pytest.param(reading(0, message_id=9), reading(3, message_id=9, redelivered=True), 1, id="the same message"),
        pytest.param(reading(0, message_id=9), reading(3, message_id=9), 2, id="a message identifier used anew"),
        pytest.param(
            reading(0, message_id=9), reading(3, 21.0, message_id=9, redelivered=True), 2, id="same id, other"
        ),
        pytest.param(
            reading(0, message_id=9), reading(3, message_id=8, redelivered=True), 2, id="a message never heard"
        ),
        pytest.param(reading(0, sequence=2**70), reading(0, sequence=2**70), 1, id="a sequence beyond 64 bits"),
    ],
)
@pytest.mark.parametrize("apart", ["together", "one by one", "after a restart"])
def test_identity_of_a_reading(stores: StoreBench, first: Reading, second: Reading, rows: int, apart: str) -> None:
    with stores.store().writer(NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        if apart == "together":
            writer.append([first, second])
        else:
            writer.append([first])
        if apart == "one by one":
            writer.append([second])
    with stores.store().writer(NOW) as writer:
        if apart == "after a restart":
            writer.append([second])
        assert len(stored(writer)) == rows


def test_duplicates_are_counted(writer: Writer) -> None:
    writer.append([reading(0, message_id=1), reading(1, message_id=2)])
    again = [reading(0, message_id=1, redelivered=True), reading(1, message_id=2, redelivered=True), reading(2)]
    assert writer.append(again) == Appended(stored=1, duplicates=2)


def test_a_new_session_uses_message_identifiers_anew(writer: Writer) -> None:
    writer.append([reading(0, message_id=1), reading(0, message_id=1, series=3)])
    writer.append((), new_sessions={1})
    again = [reading(1, message_id=1, redelivered=True), reading(1, message_id=1, series=3, redelivered=True)]
    assert writer.append(again) == Appended(stored=1, duplicates=1)


def test_a_series_that_was_never_declared_is_refused_and_nothing_stored(writer: Writer) -> None:
    with pytest.raises(StoreError, match="no series 99"):
        writer.append([reading(0), reading(0, series=99)])
    assert stored(writer) == []


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_a_number_is_refused_and_nothing_stored(writer: Writer, value: float) -> None:
    with pytest.raises(StoreError, match="not a number"):
        writer.append([reading(0), reading(1, value)])
    assert stored(writer) == []


@pytest.mark.parametrize("together", [True, False])
def test_of_one_instant_the_last_that_came_in_is_the_latest(writer: Writer, together: bool) -> None:
    three = [Reading(1, NOW_MS, value) for value in (18.97, 18.98, 19.0)]
    for part in [three] if together else [[one] for one in three]:
        writer.append(part)
    assert writer.latest()[1].value == 19.0


def test_latest_is_the_newest_by_its_own_time_however_late_others_come(writer: Writer) -> None:
    writer.append([reading(5, 21.0, flags=Flag.IMPLAUSIBLE)])
    writer.append([reading(3, 19.0)])
    assert writer.latest() == {1: Latest(1, NOW + timedelta(minutes=5), 21.0, Flag.IMPLAUSIBLE)}


def test_a_retained_value_never_hides_a_newer_reading_and_gives_way_to_one(writer: Writer) -> None:
    retained = Latest(1, NOW, 18.0, last_known=True)
    writer.set_last_known([retained])
    assert writer.latest()[1] == retained
    writer.append([reading(0, 18.5)])
    assert writer.latest()[1] == Latest(1, NOW, 18.5)
    writer.set_last_known([retained])
    assert writer.latest()[1] == Latest(1, NOW, 18.5)
    assert len(stored(writer)) == 1


def test_a_probe_keeps_its_series_over_a_restart(stores: StoreBench) -> None:
    with stores.store().writer(NOW) as writer:
        first = writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(0)])
    with stores.store().writer(NOW) as writer:
        assert writer.declare("Europe/Vienna", VESSELS, PROBES[::-1], NOW) == first
        assert [series.probe for series in writer.series()] == list(PROBES[::-1])
        assert len(stored(writer)) == 1
        assert writer.site() == ("home", "Europe/Vienna")


def test_a_slug_that_returns_for_another_quantity_is_another_series(writer: Writer) -> None:
    writer.append([reading(0)])
    float_now = Probe("left-beer", "left", Quantity.GRAVITY, "float", "1", Unit.SG)
    numbers = writer.declare("UTC", VESSELS, [float_now], NOW)
    assert numbers["left-beer"] not in {1, 2, 3}
    assert [series.probe for series in writer.series()] == [float_now]
    assert len(stored(writer)) == 1


def test_only_a_changed_calibration_or_vessel_is_a_new_binding(writer: Writer) -> None:
    later, last = NOW + timedelta(days=1), NOW + timedelta(days=2)
    writer.declare("UTC", VESSELS, PROBES, later)
    writer.declare("UTC", VESSELS, [beer_probe(calibration=Calibration(-0.4))], later)
    writer.declare("UTC", VESSELS, [beer_probe(vessel="right", calibration=Calibration(-0.4))], last)
    assert [binding for binding in writer.bindings() if binding.series == 1] == [
        Binding(1, "left", Calibration(), NOW),
        Binding(1, "left", Calibration(-0.4), later),
        Binding(1, "right", Calibration(-0.4), last),
    ]


def test_a_vessel_gone_from_the_configuration_is_shown_while_it_holds_a_batch(writer: Writer) -> None:
    writer.apply(opening(batch(vessel="left")), NOW)
    writer.declare("UTC", VESSELS[1:], [], NOW)
    assert [vessel.slug for vessel in writer.vessels()] == ["right", "left"]
    writer.declare("UTC", [], [], NOW)
    assert [vessel.slug for vessel in writer.vessels()] == ["left"]


def test_an_alarm_comes_back_with_every_field_and_timer(writer: Writer, reader: Reader) -> None:
    alarm = Alarm(
        rule="temperature-high",
        subject="vessel:left",
        condition=Condition.CLEARING,
        severity=Severity.CRITICAL,
        since=NOW,
        worse_since=NOW,
        raised_at=NOW - timedelta(minutes=3, microseconds=17),
        cleared_at=NOW,
        acknowledged_at=NOW,
        acknowledged_by="eva",
        occurrence=3,
        last_known=True,
        unknown_since=NOW,
        shelved_until=NOW,
        shelved_by="eva",
        out_of_service=True,
        out_of_service_since=NOW,
        out_of_service_by="jonas",
        suppressed_by="source:board",
        told_by="source-lost",
        statement="27.0 °C",
        remedy="cool it",
    )
    untouched = [field.name for field in fields(Alarm) if getattr(alarm, field.name) == field.default]
    assert not untouched, "the test must fill every field"
    writer.save_alarms([alarm], [JournalEntry(NOW, "alarm", alarm.subject, "raised")])
    assert reader.alarms() == (alarm,)
    assert [entry.text for entry in reader.journal()] == ["raised"]


def test_the_journal_keeps_quantities_for_each_reader_and_harms_nobody(writer: Writer, reader: Reader) -> None:
    writer.enter([JournalEntry(NOW, "alarm", "vessel:left", f"\x1b[31m{temperature(24.0)}, too warm\x1b")])
    (entry,) = reader.journal()
    assert plain(entry.text) == "\\x1b[31m24.0 °C, too warm\\x1b"
    assert Voice(US).text(entry.text).endswith("75.2 °F, too warm\\x1b")


def test_a_judgement_comes_back_whole(writer: Writer, reader: Reader) -> None:
    evidence = (Evidence("gravity steady", met=False, statement="falls 0.4 a day", remedy="wait"),)
    judgement = Judgement(
        at=NOW,
        trend=Trend(NOW, 1.02, 0.4, -3.0, 0.2, 0.6, foam_points=1.0),
        phase=PhaseStatement(Phase.SLOWING, NOW, "because", evidence),
        forecast=Forecast(NOW, 1.011, 1.009, 1.013, NOW, NOW, None, ("sugar was added",)),
        verdict=Verdict(VerdictKind.NOT_YET, NOW, ("still falling",), evidence, FAR, "a second reading"),
    )
    writer.save_judgement("BATCH1", judgement)
    assert reader.judgement("BATCH1") == judgement
    assert reader.judgement("BATCH2") is None


def test_sources_and_the_sign_of_life_are_replaced(writer: Writer, reader: Reader) -> None:
    source = SourceStatus("board", "serial-line", SourceState.CONNECTED, "115200 baud", NOW, 5, 1, "noise", ("a", "b"))
    status = WatcherStatus("0.1", 42, NOW, NOW, NOW, NOW, 5, 1, "the disk is slow")
    assert reader.watcher() is None
    for readings in (5, 6):
        writer.set_source(replace(source, readings=readings))
        writer.beat(replace(status, readings_stored=readings))
    assert reader.sources() == (replace(source, readings=6),)
    assert reader.watcher() == replace(status, readings_stored=6)


def test_how_large_it_is_grows_with_what_is_kept(writer: Writer, reader: Reader) -> None:
    before = reader.room()
    writer.enter([JournalEntry(NOW, "watcher", "site", "x" * 1000) for _ in range(200)])
    assert reader.room().size_bytes >= before.size_bytes + 100_000
    assert before.free_bytes is None or before.free_bytes >= 0


def test_what_a_notifier_told_is_kept_with_how_it_does_and_goes_with_it(writer: Writer, reader: Reader) -> None:
    phone, mail = NotifierStatus("phone", "command", NOW), NotifierStatus("mail", "apprise", NOW, NOW)
    hot = Told("phone", "temperature-high", "vessel:left", 1, Severity.WARNING, Why.BEGAN, NOW)
    late = replace(hot, rule="slow-start", subject="batch:b")
    for status, told in (
        (phone, [hot, late]),
        (mail, [replace(hot, notifier="mail")]),
        (replace(phone, told_at=NOW), []),
    ):
        writer.set_notifier(status, told)
    writer.set_notifier(phone, [replace(hot, why=Why.OVER, times=2)])
    assert reader.notifiers() == (mail, phone)
    assert reader.told() == (replace(hot, notifier="mail"), late, replace(hot, why=Why.OVER, times=2))
    writer.forget_told([("slow-start", "batch:b"), ("no-such", "batch:b")])
    writer.forget_notifiers({"phone", "another"})
    assert (reader.notifiers(), reader.told()) == ((phone,), (replace(hot, why=Why.OVER, times=2),))


def test_controllers_are_replaced_and_those_that_are_configured_no_more_go(writer: Writer, reader: Reader) -> None:
    fridge = ControllerStatus("fridge", "left", Degree.SET, 18.0, 17.5, (Output.COOL,), NOW, ("door open",), "why")
    for status in (fridge, replace(fridge, name="chamber"), replace(fridge, on=())):
        writer.set_controller(status)
    assert reader.controllers() == (replace(fridge, name="chamber"), replace(fridge, on=()))
    writer.forget_controllers({"fridge", "another"})
    assert reader.controllers() == (replace(fridge, on=()),)


def test_the_journal_is_newest_first_and_can_be_asked_by_kind_and_subject(writer: Writer) -> None:
    entries = [
        JournalEntry(NOW, kind, subject, f"{kind} {subject}") for kind in ("alarm", "source") for subject in "ab"
    ]
    writer.enter(entries)
    assert writer.journal() == tuple(reversed(entries))
    assert writer.journal(limit=1) == (entries[3],)
    assert writer.journal(kind="alarm", subject="a") == (entries[0],)


def test_terminal_escapes_do_not_enter_the_journal(writer: Writer) -> None:
    writer.enter([JournalEntry(NOW, "source", "board", "\x1b]0;hello\x07 [/] \ud800")])
    assert writer.journal()[0].text == "\\x1b]0;hello\\x07 [/] \\ud800"


def test_a_reader_sees_at_once_that_something_changed(writer: Writer, reader: Reader) -> None:
    assert reader.changed()
    assert not reader.changed()
    writer.append([reading(0)])
    assert reader.changed()
    assert not reader.changed()


def test_a_reading_is_there_for_a_reader_that_opened_before(stores: StoreBench) -> None:
    stores.store().writer(NOW).close()
    with stores.store().reader() as reader, stores.store().writer(NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(0)])
        assert stored(reader) == [Reading(1, NOW_MS, 20.0)]


def test_reads_within_one_instant_see_nothing_newer(writer: Writer, reader: Reader) -> None:
    with reader.at_one_instant():
        before = reader.latest()
        writer.append([reading(0)])
        assert reader.latest() == before
    assert len(reader.latest()) == 1
