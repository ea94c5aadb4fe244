import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import Outcome, OutcomeState, RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.believable import believable
from fermwatch.model.finding import Alarm, Condition
from fermwatch.plain_data import to_plain
from fermwatch.requests import checks
from tests.conformance.stores import StoreBench
from tests.support.samples import NOW, PROBES, VESSELS, batch, event, measurement, opening, request
from tests.support.stores import open_writer

HOT = {"rule": "temperature-high", "subject": "vessel:left"}
RAISED = Alarm("temperature-high", "vessel:left", condition=Condition.RAISED, since=NOW, raised_at=NOW, occurrence=1)


def ask(writer: Writer, kind: RequestKind, payload: Mapping[str, Any]) -> Outcome:
    return writer.apply(request(kind, payload), NOW)


@pytest.fixture
def brewing(writer: Writer) -> Writer:
    """A store with an open batch, a measurement, an event and a raised alarm."""
    writer.apply(opening(batch()), NOW)
    ask(writer, RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())})
    ask(writer, RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event())})
    writer.save_alarms([RAISED], [])
    return writer


def test_a_batch_is_opened_edited_and_ended(writer: Writer) -> None:
    assert writer.apply(opening(batch()), NOW).state is OutcomeState.DONE
    assert writer.batches() == (batch(),)
    ask(writer, RequestKind.EDIT_BATCH, {"id": "BATCH1", "changes": {"name": "Amber", "vessel": "right"}, "version": 1})
    edited = replace(batch(), name="Amber", vessel="right", version=2)
    assert writer.batches() == (edited,)
    ask(writer, RequestKind.END_BATCH, {"id": "BATCH1"})
    assert writer.batches() == ()
    assert writer.batches(ended=True) == (replace(edited, ended_at=NOW, version=3),)
    assert writer.apply(opening(batch("BATCH2", "right")), NOW).state is OutcomeState.DONE


def test_measurements_and_events_are_kept_and_voided_but_never_gone(brewing: Writer) -> None:
    assert brewing.measurements("BATCH1") == (measurement(),)
    assert brewing.events("BATCH1") == (event(),)
    for identity in ("M1", "E1"):
        outcome = ask(brewing, RequestKind.VOID, {"id": identity, "reason": "mistyped"})
        assert outcome.state is OutcomeState.DONE
    assert brewing.measurements("BATCH1") == (replace(measurement(), voided=True),)
    assert brewing.events("BATCH1") == (replace(event(), voided=True),)
    assert brewing.journal(limit=1)[0].text == "eva voided E1: mistyped."


def test_readings_that_are_brought_are_looked_at_like_those_that_arrive(brewing: Writer) -> None:
    """Whoever brings them may say of them what he likes."""
    first_ms = to_ms(NOW) - 4000
    values = [19.0, 1e308, -1e308, 85.0]
    brought = {"at_ms": [first_ms + n for n in range(4)], "values": values, "flags": [0, 0, 0, 0]}
    asked = {"vessel": "left", "quantity": "beer-temperature", **brought}
    assert ask(brewing, RequestKind.IMPORT, asked).state is OutcomeState.DONE
    (series,) = [one.series for one in brewing.series() if one.probe.slug == "left-beer"]
    kept = brewing.readings(series, NOW - timedelta(hours=1), NOW)
    assert [(one.value, bool(believable(one.flags))) for one in kept] == list(
        zip(values, [True, False, False, False], strict=True)
    )


def test_a_beer_has_as_many_notes_as_anybody_means_and_is_packaged_all_the_same(
    brewing: Writer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checks, "MOST_SAID", 5)
    noted = [
        ask(brewing, RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event(f"N{number}"))}).state
        for number in range(4)
    ]
    assert noted == [OutcomeState.DONE] * 3 + [OutcomeState.REFUSED]
    more = ask(brewing, RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement("M2"))})
    assert more.reason == "Brew BATCH1 has 5 measurements and notes, the most that one beer can have."
    packaged = replace(event("P1"), kind=EventKind.PACKAGED, data={"package": "soda-pet"})
    done = ask(brewing, RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(packaged)})
    assert done.state is OutcomeState.DONE, done.reason


def test_nothing_is_done_any_more_to_beer_in_its_package_but_it_may_be_told_of(brewing: Writer) -> None:
    packaged = replace(event("P1"), kind=EventKind.PACKAGED, data={"package": "soda-pet"})
    assert ask(brewing, RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(packaged)}).state is OutcomeState.DONE
    moved = replace(event("T1"), kind=EventKind.TRANSFER, data={})
    refused = ask(brewing, RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(moved)})
    assert refused.state is OutcomeState.REFUSED
    assert "is in its package since" in plain(refused.reason)
    remark = replace(event("N9"), kind=EventKind.NOTE, data={})
    assert ask(brewing, RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(remark)}).state is OutcomeState.DONE


def test_an_alarm_is_acknowledged_by_name(brewing: Writer) -> None:
    assert ask(brewing, RequestKind.ACKNOWLEDGE, HOT).state is OutcomeState.DONE
    assert brewing.alarms() == (replace(RAISED, acknowledged_at=NOW, acknowledged_by="eva"),)


def test_an_alarm_is_shelved_for_a_time_and_taken_off_the_shelf(brewing: Writer) -> None:
    until = NOW + timedelta(hours=2)
    assert ask(brewing, RequestKind.SHELVE, {**HOT, "until": until.isoformat()}).state is OutcomeState.DONE
    assert brewing.alarms() == (replace(RAISED, shelved_until=until, shelved_by="eva"),)
    assert ask(brewing, RequestKind.UNSHELVE, HOT).state is OutcomeState.DONE
    assert brewing.alarms() == (RAISED,)


def test_a_probe_can_be_taken_out_of_service_before_it_ever_alarmed(writer: Writer) -> None:
    silent = {"rule": "probe-silent", "subject": "probe:left-beer"}
    assert ask(writer, RequestKind.SERVICE, {**silent, "out": True}).state is OutcomeState.DONE
    known = Alarm("probe-silent", "probe:left-beer")
    assert writer.alarms() == (replace(known, out_of_service=True, out_of_service_since=NOW, out_of_service_by="eva"),)
    assert ask(writer, RequestKind.SERVICE, {**silent, "out": False}).state is OutcomeState.DONE
    assert writer.alarms() == (Alarm("probe-silent", "probe:left-beer"),)


@pytest.mark.parametrize(
    ("kind", "payload", "reason"),
    [
        (RequestKind.OPEN_BATCH, to_plain(batch("B2", "attic")), "There is no vessel attic in the configuration."),
        (
            RequestKind.OPEN_BATCH,
            to_plain(batch("B2")),
            "still holds Brew BATCH1: package it, end it or move it first.",
        ),
        (RequestKind.OPEN_BATCH, to_plain(batch("BATCH1", "right")), "There is already a batch BATCH1."),
        (
            RequestKind.OPEN_BATCH,
            to_plain(replace(batch("B2", "right"), ended_at=NOW)),
            "cannot be opened as packaged or ended",
        ),
        (RequestKind.OPEN_BATCH, to_plain(replace(batch("B 2", "right"))), "is no identity"),
        (RequestKind.OPEN_BATCH, to_plain(replace(batch("B2", "right"), name=" ")), "needs a name"),
        (RequestKind.OPEN_BATCH, to_plain(replace(batch("B2", "right"), original_sg=1050.0)), "outside 1.001 to 1.2"),
        (RequestKind.OPEN_BATCH, to_plain(replace(batch("B2", "right"), volume_l=-1.0)), "volume_l: -1 is outside"),
        (
            RequestKind.OPEN_BATCH,
            to_plain(replace(batch("B2", "right"), pitched_at=NOW + timedelta(days=2))),
            "pitched_at: 2026-03-03 12:00 UTC is in the future.",
        ),
        (RequestKind.OPEN_BATCH, {}, "id: is missing."),
        (RequestKind.EDIT_BATCH, {"id": "B9", "changes": {}}, "There is no batch B9."),
        (RequestKind.EDIT_BATCH, {"id": "BATCH1", "changes": {"name": "x"}, "version": 7}, "was changed meanwhile"),
        (
            RequestKind.EDIT_BATCH,
            {"id": "BATCH1", "changes": {"id": "x", "version": 9}},
            "id, version of a batch cannot",
        ),
        (RequestKind.EDIT_BATCH, {"id": "BATCH1", "changes": {"nmae": "x"}}, "nmae: there is no such key."),
        (RequestKind.EDIT_BATCH, {"id": "BATCH1", "changes": {"vessel": "attic"}}, "There is no vessel attic"),
        (
            RequestKind.EDIT_BATCH,
            {"id": "BATCH1", "changes": {"original_sg": math.nan}},
            "original_sg: expected a finite",
        ),
        (
            RequestKind.EDIT_BATCH,
            {"id": "BATCH1", "changes": {"package": {"kind": "growler", "volumes": 2.4, "limit_bar": 9.0}}},
            "No conditioning beer goes into a growler.",
        ),
        (
            RequestKind.EDIT_BATCH,
            {"id": "BATCH1", "changes": {"pitched_at": "2023-01-01T00:00:00Z"}},
            "pitched_at: 2023-01-01 is more than two years ago.",
        ),
        (
            RequestKind.IMPORT,
            {"vessel": "left", "quantity": "beer-temperature", "at_ms": [1], "values": [1.0], "flags": [1 << 70]},
            "is no flag of a reading.",
        ),
        (RequestKind.END_BATCH, {"id": "B9"}, "There is no batch B9."),
        (RequestKind.MEASURE, {"batch": "B9", "measurement": to_plain(measurement("M2"))}, "There is no batch B9."),
        (RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement())}, "already a measurement"),
        (RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement("E1"))}, "already a measurement"),
        (
            RequestKind.MEASURE,
            {"batch": "BATCH1", "measurement": to_plain(replace(measurement("M2"), voided=True))},
            "cannot arrive voided",
        ),
        (RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(event())}, "already a measurement or event E1."),
        (RequestKind.EVENT, {"batch": "BATCH1", "event": {"id": "E2"}}, "event.at: is missing."),
        (RequestKind.VOID, {"id": "M9"}, "There is no measurement or event M9."),
        (RequestKind.ACKNOWLEDGE, {**HOT, "subject": "vessel:right"}, "no alarm temperature-high of vessel:right."),
        (RequestKind.ACKNOWLEDGE, {"rule": "a b", "subject": "x"}, "No alarm can be called a b of x."),
        (RequestKind.SHELVE, {**HOT, "until": NOW.isoformat()}, "has passed"),
        (RequestKind.SHELVE, {**HOT, "until": "2026-03-08T12:00:00Z"}, "24 hours at most"),
        (RequestKind.UNSHELVE, HOT, "is not shelved"),
        (RequestKind.SERVICE, {**HOT, "out": False}, "is in service already"),
        (RequestKind.SERVICE, {**HOT, "out": "yes"}, "out: expected true or false, got 'yes'."),
    ],
)
def test_what_cannot_be_done_is_refused_in_one_sentence(
    brewing: Writer, kind: RequestKind, payload: Mapping[str, Any], reason: str
) -> None:
    before = brewing.batches(ended=True), brewing.measurements("BATCH1"), brewing.events("BATCH1"), brewing.alarms()
    outcome = ask(brewing, kind, payload)
    assert outcome.state is OutcomeState.REFUSED
    assert reason in outcome.reason
    assert outcome.reason.count("\n") == 0
    after = brewing.batches(ended=True), brewing.measurements("BATCH1"), brewing.events("BATCH1"), brewing.alarms()
    assert after == before
    assert brewing.journal(limit=1)[0].text == f"eva asked in vain ({kind}): {outcome.reason}"


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        (RequestKind.END_BATCH, {"id": "BATCH1"}),
        (RequestKind.VOID, {"id": "M1"}),
        (RequestKind.ACKNOWLEDGE, HOT),
        (RequestKind.SERVICE, {**HOT, "out": True}),
    ],
)
def test_what_is_done_cannot_be_done_again(brewing: Writer, kind: RequestKind, payload: dict[str, Any]) -> None:
    assert ask(brewing, kind, payload).state is OutcomeState.DONE
    assert ask(brewing, kind, payload).state is OutcomeState.REFUSED


def test_a_request_applied_twice_is_done_once_and_answers_the_same(brewing: Writer, stores: StoreBench) -> None:
    asked = request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measurement("M2"))})
    first = brewing.apply(asked, NOW)
    brewing.close()
    with stores.store().writer(NOW) as restarted:
        assert restarted.apply(asked, NOW + timedelta(hours=1)) == first == restarted.outcome(asked.key)
        assert len(restarted.measurements("BATCH1")) == 2


def test_a_request_that_comes_too_late_is_not_carried_out(writer: Writer) -> None:
    asked = replace(opening(batch()), expires_at=NOW)
    assert writer.apply(asked, NOW).state is OutcomeState.EXPIRED
    assert writer.batches() == ()


def test_a_request_for_another_site_or_of_another_version_is_refused(writer: Writer) -> None:
    assert "This is the site home, not shed." in writer.apply(replace(opening(batch()), site="shed"), NOW).reason
    assert "knows version 1" in writer.apply(replace(opening(batch()), version=2), NOW).reason
    assert writer.batches() == ()


def test_text_of_a_request_is_made_harmless(writer: Writer) -> None:
    writer.apply(replace(opening(replace(batch(), name="\x1b[31mRed")), user="eva\n\x1b"), NOW)
    assert writer.batches()[0].name == "\\x1b[31mRed"
    assert writer.journal(limit=1)[0].text == "eva\\x0a\\x1b opened \\x1b[31mRed in left."


def test_a_request_as_big_or_deep_as_can_be_is_refused(writer: Writer) -> None:
    deep: Any = {}
    for _ in range(50):
        deep = {"deeper": deep}
    wide = {str(number): 0 for number in range(300)}
    for payload in (deep, wide):
        assert ask(writer, RequestKind.OPEN_BATCH, payload).state is OutcomeState.REFUSED


keys = st.sampled_from([*to_plain(batch()), "batch", "measurement", "event", "rule", "subject", "until", "changes"])
junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.sampled_from(["BATCH1", "left", "M1"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=6,
)
SEEDS = [to_plain(batch("B2", "right")), {"batch": "BATCH1", "measurement": to_plain(measurement("M2"))}, HOT]


@settings(max_examples=15, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(RequestKind), st.sampled_from(SEEDS), st.dictionaries(keys, junk)), max_size=25)
)
def test_no_payload_whatever_stops_the_watcher(asked: list[tuple[RequestKind, dict[str, Any], dict[str, Any]]]) -> None:
    with TemporaryDirectory() as directory, open_writer(Path(directory), "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.apply(opening(batch()), NOW)
        for kind, seed, changes in asked:
            assert ask(writer, kind, {**seed, **changes}).reason
        assert writer.batches(ended=True)
        assert writer.alarms() == ()
        assert all(each.kind in EventKind for each in writer.events("BATCH1"))
