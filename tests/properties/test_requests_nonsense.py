"""Whatever is asked, there is an outcome, done or refused in a sentence, and nothing gets in that cannot be held."""

import tempfile
from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from math import isfinite
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.degree import CAUTION
from fermwatch.plain_data import to_plain
from fermwatch.text import clean
from tests.support.samples import NOW, PROBES, VESSELS, batch, event, measurement, opening, request
from tests.support.stores import open_writer

DAY = timedelta(days=1)
NUMBERS = (
    st.sampled_from([0, -1, 1e300, -1e300, 10**400, float("nan"), float("inf"), -float("inf"), True, 1e-300, 2**63])
    | st.floats()
    | st.integers()
)
NONSENSE = st.recursive(
    st.none()
    | st.booleans()
    | NUMBERS
    | st.text(max_size=8)
    | st.sampled_from(["150 g", "2026-13-01", "0001-01-01T00:00:00Z"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=4,
)
SENSIBLE: Mapping[RequestKind, Any] = {
    RequestKind.OPEN_BATCH: to_plain(batch("B2", "right")),
    RequestKind.EDIT_BATCH: {
        "id": "BATCH1",
        "changes": {"name": "x", "volume_l": 19.0, "rule_settings": {}},
        "version": 1,
    },
    RequestKind.END_BATCH: {"id": "BATCH1"},
    RequestKind.MEASURE: {"batch": "BATCH1", "measurement": to_plain(measurement("M2"))},
    RequestKind.EVENT: {"batch": "BATCH1", "event": to_plain(replace(event("E2"), kind=EventKind.SUGAR))},
    RequestKind.VOID: {"id": "M1", "reason": "x"},
    RequestKind.IMPORT: {
        "vessel": "left",
        "quantity": "beer-temperature",
        "at_ms": [to_ms(NOW) - 60_000, to_ms(NOW)],
        "values": [19.0, 19.1],
        "flags": [0, 0],
        "last": True,
    },
    RequestKind.ACKNOWLEDGE: {"rule": "temperature-high", "subject": "vessel:left"},
    RequestKind.SHELVE: {
        "rule": "temperature-high",
        "subject": "vessel:left",
        "until": (NOW + timedelta(hours=2)).isoformat(),
    },
    RequestKind.UNSHELVE: {"rule": "temperature-high", "subject": "vessel:left"},
    RequestKind.ARM: {"controller": "fridge", "degree": "set", "repeated": CAUTION},
    RequestKind.SERVICE: {"rule": "temperature-high", "subject": "vessel:left", "out": True},
}


def places(plain: object, before: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    if not isinstance(plain, Mapping):
        return [before]
    return [before, *(place for key, value in plain.items() for place in places(value, (*before, key)))]


def with_at(plain: Any, place: tuple[str, ...], value: object) -> Any:  # noqa: ANN401
    """The same data with another value at a place."""
    if not place:
        return value
    return {**plain, place[0]: with_at(plain[place[0]], place[1:], value)}


@st.composite
def askings(draw: st.DrawFn) -> tuple[RequestKind, Any]:
    kind = draw(st.sampled_from(list(RequestKind)))
    payload = SENSIBLE[kind]
    for _ in range(draw(st.integers(1, 2))):
        payload = with_at(payload, draw(st.sampled_from(places(payload))), draw(NONSENSE))
    return kind, payload


@settings(max_examples=60, deadline=None)
@given(st.lists(askings(), min_size=6, max_size=12))
def test_every_request_has_an_outcome_and_what_is_stored_can_be_read(asked: list[tuple[RequestKind, Any]]) -> None:
    with (
        tempfile.TemporaryDirectory() as directory,
        open_writer(Path(directory), "home", NOW, ballast_bytes=4096) as writer,
    ):
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.apply(opening(batch()), NOW)
        for kind, payload in asked:
            outcome = writer.apply(request(kind, payload), NOW)
            assert outcome.state in set(OutcomeState)
            said = plain(outcome.reason)  # amounts in it are marked, for the reader's units
            assert clean(said, 1000) == said
        for one in writer.batches(ended=True):
            writer.measurements(one.id)
            writer.events(one.id)
        for known in writer.series():
            assert all(isfinite(reading.value) for reading in writer.readings(known.series, NOW - DAY, NOW + DAY))
        writer.alarms()


def test_what_is_made_wrong_there_was_right_before() -> None:
    with (
        tempfile.TemporaryDirectory() as directory,
        open_writer(Path(directory), "home", NOW, ballast_bytes=4096) as writer,
    ):
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.apply(opening(batch()), NOW)
        for kind in (RequestKind.OPEN_BATCH, RequestKind.MEASURE, RequestKind.EVENT, RequestKind.EDIT_BATCH):
            outcome = writer.apply(request(kind, SENSIBLE[kind]), NOW)
            assert outcome.state is OutcomeState.DONE, outcome.reason
