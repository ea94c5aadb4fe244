import contextlib
import json
import math
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, PackageChoice
from fermwatch.model.finding import Alarm, Finding
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Probe
from fermwatch.plain_data import Malformed, from_plain, from_text, to_plain, to_text
from tests.support.samples import ALE, NOW, batch

instants = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001
finite = st.floats(allow_nan=False, allow_infinity=False)
st.register_type_strategy(datetime, instants)
st.register_type_strategy(float, finite)

st.register_type_strategy(
    GravityMeasurement,
    st.builds(GravityMeasurement, gravity_sg=st.floats(0.97, 1.2), sample_temperature_c=st.none() | st.floats(-5, 100)),
)

json_data = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)


@pytest.mark.parametrize("shape", [Alarm, Judgement, Probe, GravityMeasurement, Finding, Batch])
def test_any_value_of_the_model_comes_back_equal(shape: type) -> None:
    @given(st.from_type(shape))
    def check(value: object) -> None:
        assert from_text(shape, to_text(value)) == value

    check()


def test_the_kinds_of_an_events_data_are_kept_apart() -> None:
    data: dict[str, float | str | bool] = {"passed": True, "grams": 50.0, "name": "1.5"}
    kept = from_text(Event, to_text(Event("E", NOW, EventKind.SUGAR, data)))
    assert {key: type(value) for key, value in kept.data.items()} == {"passed": bool, "grams": float, "name": str}


def test_an_instant_of_another_zone_is_the_same_instant() -> None:
    there = NOW.astimezone(timezone(timedelta(hours=5)))
    assert from_text(Event, to_text(Event("E", there, EventKind.NOTE))).at == NOW


@pytest.mark.parametrize(
    ("key", "value", "complaint"),
    [
        ("volume_l", "20", "volume_l: expected a number, got '20'"),
        ("volume_l", True, "volume_l: expected a number, got True"),
        ("volume_l", math.nan, "volume_l: expected a finite number"),
        ("volume_l", 10**400, "volume_l: expected a finite number"),
        ("name", 5, "name: expected text, got 5"),
        ("version", 1.5, "version: expected a whole number"),
        ("version", True, "version: expected a whole number"),
        ("pitched_at", "yesterday", "pitched_at: expected an instant"),
        ("pitched_at", "2026-03-01T12:00:00", "pitched_at: expected an instant with its time zone"),
        ("pitched_at", "0001-01-01T00:00:00+14:00", "pitched_at: expected an instant"),
        ("original_origin", "guess", "original_origin: expected one of measured, topped-up, recipe, got 'guess'"),
        ("original_origin", [], "original_origin: expected one of"),
        ("yeast", None, "yeast: expected an object"),
        ("yeast", {**to_plain(ALE), "attenuation_low": "much"}, "yeast.attenuation_low: expected a number"),
        ("package", {"kind": "keg"}, "package.volumes: is missing"),
        ("extract_adjuncts_g_per_l", {"lactose": "some"}, "extract_adjuncts_g_per_l.lactose: expected a number"),
        ("colour", "amber", "colour: there is no such key"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_place(key: str, value: object, complaint: str) -> None:
    with pytest.raises(Malformed) as refused:
        from_plain(Batch, {**to_plain(batch()), key: value})
    assert str(refused.value).startswith(complaint)


def test_a_missing_key_is_named() -> None:
    plain = to_plain(batch())
    del plain["vessel"]
    with pytest.raises(Malformed, match="vessel: is missing"):
        from_plain(Batch, plain)


def test_a_stored_row_may_hold_keys_of_a_newer_version() -> None:
    newer = {"kind": "keg", "volumes": 2.4, "lined": True}
    assert from_text(PackageChoice, json.dumps(newer)) == PackageChoice("keg", 2.4)


def test_what_is_no_json_is_malformed() -> None:
    with pytest.raises(Malformed, match="not JSON"):
        from_text(Batch, "{")


@given(json_data)
def test_no_data_whatever_raises_anything_but_malformed(plain: object) -> None:
    for shape in (Batch, Event, Judgement):
        with contextlib.suppress(Malformed):
            assert isinstance(from_plain(shape, plain), shape)
