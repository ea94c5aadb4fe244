"""What is read back of readings: sums over any span and zoom, the last good one, and those of a time to come."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from fermwatch.contracts.store import Bucket, Latest, Writer
from fermwatch.model.believable import believable
from fermwatch.model.reading import Flag, Reading
from tests.conformance.stores import StoreBench
from tests.support.samples import MINUTE_MS, NOW, NOW_MS, VESSELS, beer_probe, reading

DAY = timedelta(days=1)
SPAN_MIN = 4 * 24 * 60
minutes = st.integers(0, SPAN_MIN - 1)
values = st.integers(-500, 4000).map(lambda tenths: tenths / 128)  # sums of these are exact in binary
flags = st.sampled_from([Flag.GOOD, Flag.GOOD, Flag.CLOCK_UNSURE, Flag.IMPLAUSIBLE, Flag.JUMP])
said = st.lists(st.tuples(minutes, values, flags), min_size=1, max_size=60, unique_by=lambda row: row[0])


def within(readings: Sequence[Reading], start: datetime, end: datetime) -> list[float]:
    """The good values of a span, straight from the readings."""
    return [
        one.value
        for one in readings
        if believable(one.flags) and start <= NOW + timedelta(milliseconds=one.at_ms - NOW_MS) < end
    ]


def summed_up(buckets: Sequence[Bucket]) -> tuple[int, float, float, float]:
    return (
        sum(bucket.count for bucket in buckets),
        min(bucket.low for bucket in buckets),
        max(bucket.high for bucket in buckets),
        sum(bucket.mean * bucket.count for bucket in buckets),
    )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    said,
    st.integers(-1440, SPAN_MIN),
    st.integers(1, 5 * 1440),
    st.integers(1, 400),
    st.tuples(st.integers(0, 7200), st.integers(0, 7200)) | st.none(),
)
def test_buckets_hold_exactly_the_good_readings_of_the_range_or_of_a_part_of_it(
    stores: StoreBench,
    rows: list[tuple[int, float, Flag]],
    offset_min: int,
    span_min: int,
    columns: int,
    part_min: tuple[int, int] | None,
) -> None:
    """Each example in a series of its own: making a store takes longer than filling one."""
    start = NOW + timedelta(minutes=offset_min)
    end = start + timedelta(minutes=span_min)
    part = None
    if part_min is not None:
        first, last = (min(start + timedelta(minutes=minute), end) for minute in sorted(part_min))
        part = first, last
    with stores.store().writer(NOW) as writer:
        series = one_more_series(writer)
        readings = [
            reading(minute, value, series=series, flags=flag, sequence=minute, lag_ms=(SPAN_MIN - minute) * MINUTE_MS)
            for minute, value, flag in rows
        ]
        writer.append(readings)
        buckets = writer.buckets(series, start, end, columns, part)
    good = within(readings, *(part or (start, end)))
    assert len(buckets) <= columns
    assert all(start <= bucket.at < end for bucket in buckets)
    if not good:
        assert not buckets
        return
    assert summed_up(buckets) == pytest.approx((len(good), min(good), max(good), sum(good)))


def one_more_series(writer: Writer) -> int:
    slug = f"beer-{len(writer.series(every=True))}"
    return writer.declare("UTC", VESSELS, [beer_probe(slug)], NOW)[slug]


def test_a_spike_is_never_averaged_away_at_any_zoom(writer: Writer) -> None:
    writer.append([reading(minute, 20.0) for minute in range(0, 60 * 24 * 40, 5)] + [reading(60 * 24 * 20 + 1, 31.5)])
    for columns in (1, 7, 96, 300):
        buckets = writer.buckets(1, NOW, NOW + timedelta(days=40), columns)
        assert max(bucket.high for bucket in buckets) == 31.5
        assert min(bucket.low for bucket in buckets) == 20.0
        assert sum(bucket.count for bucket in buckets) == 12 * 24 * 40 + 1


def test_the_open_quarter_hour_is_there_at_once(writer: Writer) -> None:
    writer.append([reading(0, 20.0), reading(1, 22.0)])
    assert writer.buckets(1, NOW, NOW + timedelta(days=1), 96) == [Bucket(NOW, 2, 20.0, 22.0, 21.0)]


@pytest.mark.parametrize(("span", "columns"), [(timedelta(0), 10), (timedelta(-1), 10), (timedelta(1), 0)])
def test_no_range_has_no_buckets(writer: Writer, span: timedelta, columns: int) -> None:
    writer.append([reading(0)])
    assert writer.buckets(1, NOW, NOW + span, columns) == []


def test_the_last_good_reading_is_found_however_many_bad_ones_came_since(writer: Writer) -> None:
    broken = [reading(minute, 85.0, flags=Flag.POWER_ON_CODE) for minute in range(1, 60 * 24 * 3, 10)]
    writer.append([reading(0, 19.5), *broken])
    assert writer.last_good(writer.latest()[1]) == Latest(1, NOW, 19.5)
    writer.append([reading(0, 85.0, series=3, flags=Flag.POWER_ON_CODE)])
    assert writer.last_good(writer.latest()[3]) is None


def test_a_store_believes_what_the_nouns_believe_whatever_the_flags(writer: Writer) -> None:
    """Its statements name flags by numbers; none of them may know another set than `believable`."""
    every = [Flag(number) for number in range(2 * max(Flag))]
    writer.append([reading(minute, float(minute), flags=flags) for minute, flags in enumerate(every)])
    end = NOW + timedelta(minutes=len(every))
    good = [float(minute) for minute, flags in enumerate(every) if believable(flags)]
    assert list(writer.believed(1, NOW, end)[1]) == good
    for days in (1, 60):  # from the readings themselves, and from sums of them
        assert sum(one.count for one in writer.buckets(1, NOW - timedelta(days=days), NOW + DAY, 200)) == len(good)
    last = writer.last_good(Latest(1, end, 0.0, Flag.IMPLAUSIBLE, last_known=False))
    assert last is not None
    assert last.value == good[-1]


def test_readings_of_a_time_to_come_are_marked_and_give_way_and_come_back_if_the_clock_was_right(
    writer: Writer,
) -> None:
    writer.append([reading(0, 19.0), reading(60 * 24 * 30, 25.0)])
    assert writer.mark_ahead(NOW + timedelta(minutes=1))
    assert not writer.mark_ahead(NOW + timedelta(minutes=1))
    assert writer.latest()[1].value == 19.0
    assert [one.flags for one in writer.readings(1, NOW, NOW + 60 * DAY)] == [Flag.GOOD, Flag.AHEAD]
    assert sum(one.count for one in writer.buckets(1, NOW, NOW + 60 * DAY, 10)) == 1
    assert writer.take_off_marks(NOW, NOW + 40 * DAY)
    assert writer.latest()[1].value == 25.0
    assert sum(one.count for one in writer.buckets(1, NOW, NOW + 60 * DAY, 10)) == 2


def test_the_same_instant_can_be_of_a_time_to_come_twice(writer: Writer) -> None:
    """Of a device whose clock says whole minutes. It was refused as no unique row, and with it all that came after."""
    for value in (19.0, 25.0):
        writer.append([reading(60, value)])
        assert writer.mark_ahead(NOW)
    assert writer.latest() == {}
    assert writer.take_off_marks(NOW, NOW + DAY)
    assert [one.flags for one in writer.readings(1, NOW, NOW + DAY)].count(Flag.GOOD) == 1


@settings(
    max_examples=40, deadline=None, phases=[Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.tuples(st.sampled_from(["append", "mark", "free"]), said, minutes, minutes), min_size=2, max_size=8))
def test_however_the_clock_was_set_the_sums_are_those_of_the_readings_that_are_believed(
    stores: StoreBench, steps: list[tuple[str, list[tuple[int, float, Flag]], int, int]]
) -> None:
    with stores.store().writer(NOW) as writer:
        series = one_more_series(writer)
        for number, (step, rows, one, other) in enumerate(steps):
            if step == "append":
                writer.append(
                    [
                        reading(minute, value, series=series, flags=flag, sequence=number * SPAN_MIN + minute, lag_ms=1)
                        for minute, value, flag in rows
                    ]
                )
            elif step == "mark":
                writer.mark_ahead(NOW + timedelta(minutes=one))
            else:
                writer.take_off_marks(*(NOW + timedelta(minutes=minute) for minute in sorted((one, other))))
            kept = [each for each in writer.readings(series, NOW, NOW + 5 * DAY) if believable(each.flags)]
            at_ms, numbers = writer.believed(series, NOW, NOW + 5 * DAY)
            assert list(zip(at_ms, numbers, strict=True)) == [(each.at_ms, each.value) for each in kept], step
            buckets = writer.buckets(series, NOW, NOW + 5 * DAY, 7)
            assert sum(bucket.count for bucket in buckets) == len(kept), step
            assert sum(bucket.mean * bucket.count for bucket in buckets) == pytest.approx(sum(e.value for e in kept))


def test_pages_are_the_readings_each_once_also_where_several_are_of_one_instant(writer: Writer) -> None:
    writer.append([reading(minute // 3, 20.0 + minute / 10) for minute in range(20)])
    start, end = NOW + timedelta(minutes=1), NOW + timedelta(minutes=6)
    for size in (1, 2, 5, 100):
        pages = list(writer.pages(1, start, end, size))
        assert [one for page in pages for one in page] == list(writer.readings(1, start, end))
        assert max(len(page) for page in pages) <= size
    assert list(writer.pages(2, start, end)) == []
