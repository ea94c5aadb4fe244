"""Rows of other versions: a newer one is told as such and passed over, an older one reads as ever."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.contracts.kept import Misread
from fermwatch.contracts.store import ControllerStatus, Reader, SourceState, SourceStatus, WatcherStatus, Writer
from fermwatch.errors import UnreadableRow
from fermwatch.model.batch import LEAST_SD_POINTS
from fermwatch.model.degree import Degree
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.judgement import Judgement
from fermwatch.model.telling import NotifierStatus, Told, Why
from fermwatch.plain_data import to_plain
from tests.conformance.stores import Row, StoreBench
from tests.support.samples import NOW, PROBES, VESSELS, batch, event, measurement, opening, request

STATUS = WatcherStatus("0.1", 42, NOW, NOW, NOW)
SOURCE = SourceStatus("board", "serial-line", SourceState.CONNECTED, "115200 baud", NOW)
TOLD = Told("phone", "temperature-high", "vessel:left", 1, Severity.WARNING, Why.BEGAN, NOW)
ALARM = Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW)


def with_another_word(row: dict[str, Any]) -> dict[str, Any]:
    """One of the row's words from an enum, as a later version might say it; where there is none, a later version."""
    for key in ("condition", "state", "quantity", "kind", "method"):
        if key in row:
            return {key: "sparkling"}
    return {"row": 99}


NEWER: dict[str, Callable[[dict[str, Any]], object]] = {
    "a later version": lambda row: row.update(row=99),
    "a word that is not known here": lambda row: row.update(with_another_word(row)),
}
newer = pytest.mark.parametrize("change", NEWER.values(), ids=NEWER)


@pytest.fixture
def filled(writer: Writer) -> Writer:
    """One row of everything, and of some more."""
    writer.apply(opening(batch()), NOW)
    for kind, payload in (
        (RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}),
        (RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event())}),
    ):
        assert writer.apply(request(kind, payload), NOW).state is OutcomeState.DONE
    writer.save_alarms([ALARM], [])
    writer.save_judgement("BATCH1", Judgement(NOW))
    writer.set_source(SOURCE)
    writer.set_controller(ControllerStatus("fridge", "left", Degree.OBSERVE))
    writer.set_notifier(NotifierStatus("phone", "command", NOW), [TOLD])
    writer.beat(STATUS)
    return writer


def asked(reader: Reader) -> dict[Row, int]:
    """How many rows of each kind are handed out."""
    return {
        Row.VESSEL: len(reader.vessels()),
        Row.PROBE: len(reader.series()),
        Row.BATCH: len(reader.batches()),
        Row.MEASUREMENT: len(reader.measurements("BATCH1", strict=False)),
        Row.EVENT: len(reader.events("BATCH1", strict=False)),
        Row.JUDGEMENT: int(reader.judgement("BATCH1") is not None),
        Row.ALARM: len(reader.alarms()),
        Row.SOURCE: len(reader.sources()),
        Row.CONTROLLER: len(reader.controllers()),
        Row.NOTIFIER: len(reader.notifiers()),
        Row.TOLD: len(reader.told()),
    }


ALL = {
    Row.VESSEL: 2,
    Row.PROBE: 3,
    Row.BATCH: 1,
    Row.MEASUREMENT: 1,
    Row.EVENT: 1,
    Row.JUDGEMENT: 1,
    Row.ALARM: 1,
    Row.SOURCE: 1,
    Row.CONTROLLER: 1,
    Row.NOTIFIER: 1,
    Row.TOLD: 1,
}


@newer
@pytest.mark.parametrize("row", ALL)
def test_a_row_of_a_newer_version_is_told_and_passed_over_and_the_others_read(
    stores: StoreBench, filled: Writer, reader: Reader, row: Row, change: Callable[[dict[str, Any]], object]
) -> None:
    assert asked(reader) == ALL
    stores.rewrite(row, change)
    for who in (reader, filled):
        with who.at_one_instant():
            assert asked(who) == {**ALL, row: 0}
            told = who.misread()
        assert len(told) == ALL[row]
        assert all(one.newer and "is of a newer version of fermwatch" in one.text for one in told)
        with who.at_one_instant():
            assert who.misread() == ()


def test_what_was_passed_over_goes_by_the_name_that_a_person_knows_it_by(
    stores: StoreBench, filled: Writer, reader: Reader
) -> None:
    stores.rewrite(Row.ALARM, lambda row: row.update(severity="deafening"))
    stores.rewrite(Row.EVENT, lambda row: row.update(row=2))
    reader.alarms()
    reader.events("BATCH1", strict=False)
    alarm, said = reader.misread()
    assert (alarm.what, alarm.identity) == ("alarm", "temperature-high vessel:left")
    assert "severity: expected one of advice, warning, critical, got 'deafening'" in alarm.why
    assert said == Misread("event", "E1", "row: version 2, and this one knows 1", newer=True)


@newer
@pytest.mark.parametrize("row", [Row.MEASUREMENT, Row.EVENT])
def test_nobody_judges_by_half_of_what_was_said(
    stores: StoreBench, filled: Writer, row: Row, change: Callable[[dict[str, Any]], object]
) -> None:
    stores.rewrite(row, change)
    ask = filled.measurements if row is Row.MEASUREMENT else filled.events
    with pytest.raises(UnreadableRow, match=r"A newer version wrote it: update this one\. Or void it"):
        ask("BATCH1")


@pytest.mark.parametrize("row", [Row.BATCH, Row.WATCHER])
def test_one_thing_that_was_asked_for_by_name_and_is_of_a_newer_version_is_refused_saying_so(
    stores: StoreBench, filled: Writer, row: Row
) -> None:
    stores.rewrite(row, lambda plain: plain.update(row=99))
    with pytest.raises(UnreadableRow, match=r"written by a newer version of fermwatch .* Update this one"):
        filled.batch("BATCH1") if row is Row.BATCH else filled.watcher()


def test_what_people_ask_about_a_row_of_a_newer_version_is_refused_and_changes_nothing(
    stores: StoreBench, filled: Writer
) -> None:
    stores.rewrite(Row.BATCH, lambda plain: plain.update(row=99))
    rows = [line for line in stores.contents() if '"batch" VALUES' in line]
    outcome = filled.apply(request(RequestKind.END_BATCH, {"id": "BATCH1"}), NOW)
    assert outcome.state is OutcomeState.REFUSED
    assert "was written by a newer version of fermwatch" in outcome.reason
    assert [line for line in stores.contents() if '"batch" VALUES' in line] == rows


def test_a_row_that_is_damaged_is_not_taken_for_a_newer_one(stores: StoreBench, filled: Writer) -> None:
    stores.rewrite(Row.ALARM, lambda row: row.update(occurrence="many"))
    assert filled.alarms() == ()
    (told,) = filled.misread()
    assert not told.newer
    assert told.text.startswith("the alarm temperature-high vessel:left cannot be read: occurrence: expected a whole")


def test_a_newer_row_that_only_knows_more_reads_as_ever(stores: StoreBench, filled: Writer, reader: Reader) -> None:
    for row in ALL:
        stores.rewrite(row, lambda plain: plain.update(sparkle=0.5))
    assert asked(reader) == ALL
    assert reader.batches() == (batch(),)
    assert reader.misread() == ()


def test_rows_from_before_they_had_a_version_read_as_ever(stores: StoreBench, filled: Writer, reader: Reader) -> None:
    for row in (*ALL, Row.WATCHER):
        stores.rewrite(row, lambda plain: plain.pop("row"))
    assert asked(reader) == ALL
    assert reader.watcher() == STATUS
    assert reader.vessels() == VESSELS
    assert tuple(one.probe for one in reader.series()) == PROBES
    stores.rewrite(Row.MEASUREMENT, lambda plain: plain.update(sd_points=0.0))
    assert reader.measurements("BATCH1") == (replace(measurement(), sd_points=LEAST_SD_POINTS),)
