"""One raw reading to one row, or why there is none."""

from datetime import datetime, timedelta

import pytest

from fermwatch.clock import to_ms
from fermwatch.ingest.conversion import believed_time, convert
from fermwatch.model.believable import screen
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Flag
from fermwatch.units import doubt
from tests.unit.ingest.sources import BINDINGS, NOW, raw, series

SECOND, DAY = timedelta(seconds=1), timedelta(days=1)


def test_a_row_has_the_canonical_unit_and_what_the_transport_said() -> None:
    heard = raw(68.0, unit=Unit.FAHRENHEIT, sequence=7, redelivered=True, message_id=12)
    row = convert("board", heard, BINDINGS).reading
    assert row is not None
    assert row.value == pytest.approx(20.0)
    assert (row.series, row.at_ms, row.lag_ms, row.flags) == (1, to_ms(NOW), 0, Flag.GOOD)
    assert (row.sequence, row.redelivered, row.message_id) == (7, True, 12)


def test_the_unit_that_a_device_says_wins_over_the_configured_one() -> None:
    bindings = {("board", "t1"): series(1, unit=Unit.FAHRENHEIT)}
    said, silent = convert("board", raw(20.0, unit=Unit.CELSIUS), bindings), convert("board", raw(68.0), bindings)
    assert said.reading is not None
    assert silent.reading is not None
    assert said.reading.value == pytest.approx(silent.reading.value)


def test_a_row_is_never_calibrated() -> None:
    from fermwatch.model.probe import Calibration

    row = convert("board", raw(19.4), {("board", "t1"): series(1, calibration=Calibration(-5.0))}).reading
    assert row is not None
    assert row.value == 19.4


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_rejected(value: float) -> None:
    rejection = convert("board", raw(value), BINDINGS).rejection
    assert rejection is not None
    assert (rejection.reason, rejection.channel) == ("not a finite number", "t1")


def test_a_unit_that_does_not_fit_is_rejected_with_a_reason() -> None:
    rejection = convert("board", raw(1.05, unit=Unit.SG), BINDINGS).rejection
    assert rejection is not None
    assert "is not a unit of" in rejection.reason


def test_a_channel_or_a_source_that_nobody_has_is_unbound() -> None:
    assert convert("board", raw(1.0, "t9"), BINDINGS).unbound == "t9"
    assert convert("another", raw(1.0), BINDINGS).unbound == "t1"


def test_a_retained_value_is_last_known_and_no_row() -> None:
    converted = convert("board", raw(19.4, retained=True, measured_at=NOW - DAY), BINDINGS)
    assert converted.reading is None
    assert converted.last_known is not None
    assert converted.last_known.last_known
    assert converted.last_known.at == NOW - DAY


@pytest.mark.parametrize(
    ("measured_at", "believed", "unsure"),
    [
        (None, NOW, False),
        (NOW - 59 * DAY, NOW - 59 * DAY, False),
        (NOW - 61 * DAY, NOW, True),
        (NOW + 119 * SECOND, NOW + 119 * SECOND, False),
        (NOW + 121 * SECOND, NOW, True),
        (NOW.replace(year=1970), NOW, True),
        (NOW.replace(year=2106), NOW, True),
    ],
)
def test_a_devices_time_is_believed_where_it_can_be(
    measured_at: datetime | None, believed: datetime, unsure: bool
) -> None:
    assert believed_time(measured_at, NOW) == (believed, unsure)
    row = convert("board", raw(19.0, measured_at=measured_at), BINDINGS).reading
    assert row is not None
    assert (row.at_ms, bool(row.flags & Flag.CLOCK_UNSURE)) == (to_ms(believed), unsure)
    assert row.lag_ms == to_ms(NOW) - to_ms(believed)


@pytest.mark.parametrize(
    ("quantity", "value", "flag"),
    [
        (Quantity.BEER_TEMPERATURE, 19.4, Flag.GOOD),
        (Quantity.BEER_TEMPERATURE, 85.0, Flag.POWER_ON_CODE),
        (Quantity.AIR_TEMPERATURE, -127.0, Flag.POWER_ON_CODE),
        (Quantity.BEER_TEMPERATURE, 84.9, Flag.IMPLAUSIBLE),
        (Quantity.BEER_TEMPERATURE, -10.0, Flag.GOOD),
        (Quantity.BEER_TEMPERATURE, -10.1, Flag.IMPLAUSIBLE),
        (Quantity.GRAVITY, 1.050, Flag.GOOD),
        (Quantity.GRAVITY, 0.0, Flag.IMPLAUSIBLE),
        (Quantity.GRAVITY, 85.0, Flag.IMPLAUSIBLE),
        (Quantity.OUTPUT, 1.0, Flag.GOOD),
        (Quantity.OUTPUT, 1.01, Flag.IMPLAUSIBLE),
        (Quantity.PRESSURE, -1.2, Flag.IMPLAUSIBLE),
        (Quantity.SET_POINT, 4.0, Flag.GOOD),
    ],
)
def test_what_cannot_be_is_kept_with_a_flag(quantity: Quantity, value: float, flag: Flag) -> None:
    assert screen(quantity, value) == flag
    assert bool(doubt(flag, series(1, quantity=quantity).probe, value)) is (flag is not Flag.GOOD)


def test_an_unsure_clock_alone_is_no_reason_to_disbelieve_a_value() -> None:
    assert doubt(Flag.CLOCK_UNSURE, series(1).probe, 19.4) == ""
