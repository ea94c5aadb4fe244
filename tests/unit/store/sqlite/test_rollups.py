import random
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.store import Bucket
from fermwatch.model.believable import believable
from fermwatch.model.reading import Flag, Reading
from fermwatch.store.sqlite.rollups import DAY_MS, HOUR_MS, QUARTER_MS, Grid, tier_for
from tests.support.samples import MINUTE_MS, NOW, NOW_MS, PROBES, VESSELS, reading
from tests.support.stores import open_writer

TABLES = ("reading", "latest", "quarter_hour", "hour", "day")
SPAN_MIN = 4 * 24 * 60

minutes = st.integers(0, SPAN_MIN - 1)
values = st.integers(-500, 4000).map(lambda tenths: tenths / 128)  # sums of these are exact in binary
flags = st.sampled_from([Flag.GOOD, Flag.GOOD, Flag.CLOCK_UNSURE, Flag.IMPLAUSIBLE, Flag.JUMP])
lone = st.lists(st.tuples(minutes, values, flags), max_size=60, unique_by=lambda row: row[0])


def as_readings(rows: Sequence[tuple[int, float, Flag]]) -> list[Reading]:
    """As a device with a clock of its own sends them, all of it later."""
    return [
        reading(minute, value, flags=flag, sequence=minute, lag_ms=(SPAN_MIN - minute) * 60_000)
        for minute, value, flag in rows
    ]


def tables_after(deliveries: Sequence[Sequence[Reading]]) -> dict[str, list[tuple[object, ...]]]:
    with TemporaryDirectory() as directory, open_writer(Path(directory), "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        for delivery in deliveries:
            writer.append(delivery)
        connection = sqlite3.connect(Path(directory) / "home.db")
        found = {table: connection.execute(f"SELECT * FROM {table}").fetchall() for table in TABLES}  # noqa: S608
        connection.close()
        return found


@settings(max_examples=25, deadline=None)
@given(lone, st.randoms(use_true_random=False), st.integers(1, 20))
def test_any_order_and_any_repetition_gives_the_same_tables(
    rows: list[tuple[int, float, Flag]], chance: random.Random, size: int
) -> None:
    readings = as_readings(rows)
    ordered = sorted(readings, key=lambda each: each.at_ms)
    mixed = readings + chance.sample(readings, len(readings) // 2)
    chance.shuffle(mixed)
    in_parts = [mixed[start : start + size] for start in range(0, len(mixed), size)]
    assert tables_after(in_parts) == tables_after([ordered])


def brute_force(readings: Sequence[Reading], grid: Grid) -> dict[int, list[float]]:
    """The good values of each column, straight from the readings."""
    found: dict[int, list[float]] = {}
    for each in readings:
        if believable(each.flags) and grid.start_ms <= each.at_ms < grid.end_ms:
            slot = (each.at_ms - grid.start_ms) * grid.columns // grid.span_ms
            found.setdefault(slot, []).append(each.value)
    return found


def summed_up(buckets: Sequence[Bucket]) -> tuple[int, float, float, float]:
    return (
        sum(bucket.count for bucket in buckets),
        min(bucket.low for bucket in buckets),
        max(bucket.high for bucket in buckets),
        sum(bucket.mean * bucket.count for bucket in buckets),
    )


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(minutes, values, flags), min_size=1, max_size=80),
    st.integers(-DAY_MS, SPAN_MIN * MINUTE_MS),
    st.integers(1, 5 * DAY_MS),
    st.integers(1, 400),
)
def test_buckets_hold_exactly_the_good_readings_of_the_range(
    rows: list[tuple[int, float, Flag]], offset_ms: int, span_ms: int, columns: int
) -> None:
    readings = as_readings(rows)
    grid = Grid(NOW_MS + offset_ms, NOW_MS + offset_ms + span_ms, columns)
    with TemporaryDirectory() as directory, open_writer(Path(directory), "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append(readings)
        kept = writer.readings(1, from_ms(0), from_ms(NOW_MS + 9 * DAY_MS))
        buckets = writer.buckets(1, from_ms(grid.start_ms), from_ms(grid.end_ms), columns)
    expected = brute_force(kept, grid)
    good = [value for column in expected.values() for value in column]
    assert len(buckets) <= columns
    if not good:
        assert not buckets
        return
    assert summed_up(buckets) == pytest.approx((len(good), min(good), max(good), sum(good)))
    assert all(grid.start_ms <= to_ms(bucket.at) < grid.end_ms for bucket in buckets)
    if tier_for(grid) is None:
        assert {to_ms(bucket.at): bucket.count for bucket in buckets} == {
            grid.at_ms(slot): len(column) for slot, column in expected.items()
        }


@pytest.mark.parametrize(
    ("span_ms", "columns", "length_ms"),
    [
        pytest.param(DAY_MS, 300, None, id="a day, drawn fine: raw"),
        pytest.param(DAY_MS, 96, QUARTER_MS, id="a day in quarter hours"),
        pytest.param(3 * DAY_MS, 300, QUARTER_MS, id="three days"),
        pytest.param(14 * DAY_MS, 300, QUARTER_MS, id="a fortnight"),
        pytest.param(90 * DAY_MS, 300, QUARTER_MS, id="a quarter of a year"),
        pytest.param(365 * DAY_MS, 300, HOUR_MS, id="a year"),
        pytest.param(3650 * DAY_MS, 300, DAY_MS, id="ten years"),
        pytest.param(100_000 * DAY_MS, 300, DAY_MS, id="for ever"),
    ],
)
def test_the_finest_rows_that_stay_cheap_are_read(span_ms: int, columns: int, length_ms: int | None) -> None:
    tier = tier_for(Grid(0, span_ms, columns))
    assert (tier.length_ms if tier else None) == length_ms
