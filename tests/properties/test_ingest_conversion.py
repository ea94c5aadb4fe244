"""Whatever number, unit and time a device says, ingest has an answer, and rows are finite."""

import math
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.clock import from_ms
from fermwatch.ingest.conversion import AHEAD, OLDEST, convert
from fermwatch.model.quantity import Quantity, Unit
from tests.unit.ingest.sources import NOW, raw, series

QUANTITIES = {quantity: number for number, quantity in enumerate(Quantity, 1)}
BINDINGS = {("board", quantity.value): series(number, quantity) for quantity, number in QUANTITIES.items()}
TIMES = st.none() | st.datetimes(datetime(1970, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001


@given(
    st.floats(),
    st.none() | st.sampled_from(Unit),
    st.sampled_from(Quantity),
    TIMES,
    st.booleans(),
    st.none() | st.integers(0, 2**63 - 1),
)
def test_every_reading_becomes_exactly_one_thing(
    value: float,
    unit: Unit | None,
    quantity: Quantity,
    measured_at: datetime | None,
    retained: bool,
    number: int | None,
) -> None:
    heard = raw(value, quantity.value, unit=unit, measured_at=measured_at, retained=retained, sequence=number)
    converted = convert("board", heard, BINDINGS)
    became = [converted.reading, converted.last_known, converted.rejection]
    assert sum(one is not None for one in became) == 1
    assert not converted.unbound
    row = converted.reading or converted.last_known
    if row is not None:
        assert math.isfinite(row.value)
        assert row.series == QUANTITIES[quantity]
    if converted.reading is not None:
        at = from_ms(converted.reading.at_ms)
        assert NOW - OLDEST - timedelta(milliseconds=1) <= at <= NOW + AHEAD
        assert from_ms(converted.reading.at_ms + converted.reading.lag_ms) == NOW
