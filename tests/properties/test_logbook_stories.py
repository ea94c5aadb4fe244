"""Whole stories of a batch, however wild, as rows of the store: the logbook goes on, and judges the others the same."""

import sqlite3
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fermwatch.clock import to_ms
from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import open_inbox
from fermwatch.ingest.pipeline import Intake
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, PackageChoice
from fermwatch.model.judgement import Judgement
from fermwatch.model.reading import Reading
from fermwatch.plain_data import to_text
from fermwatch.watching.logbook import Logbook
from tests.support.samples import ALE, NOW, PROBES, VESSELS, batch
from tests.support.stores import open_writer

DAY = timedelta(days=1)
BEER, GRAVITY, OTHER = 1, 2, 3  # series of the samples' probes: two of the left fermenter, one of the right
KEYS = (
    "grams",
    "gravity_sg",
    "same_yeast",
    "temperature_c",
    "target_c",
    "passed",
    "what",
    "volumes",
    "package",
    "name",
)

wild_numbers = st.floats(allow_nan=False, allow_infinity=False) | st.sampled_from([0.0, -0.0, 1e308, -1e308, 5e-324])
wild_values = wild_numbers | st.text(max_size=8) | st.booleans() | st.sampled_from(["150 g", "nan", "1e999", "-"])
moments = st.floats(-40.0, 40.0).map(lambda days: NOW + days * DAY)
gravities = st.floats(0.9, 1.3) | wild_numbers


@dataclass(frozen=True)
class Story:
    """What is in the store of one batch."""

    batch: Batch
    events: Sequence[Event]
    measurements: Sequence[GravityMeasurement]
    readings: Sequence[Reading]
    raw: Sequence[str]  # rows that are not even of the right shape


@st.composite
def stories(draw: st.DrawFn) -> Story:
    package = draw(
        st.none() | st.builds(PackageChoice, st.text(max_size=6), wild_numbers, wild_numbers, st.none() | wild_numbers)
    )
    told = replace(
        batch(),
        original_sg=draw(gravities),
        pitched_at=draw(moments),
        volume_l=draw(wild_numbers),
        yeast=replace(ALE, attenuation_low=draw(wild_numbers)),
        package=package,
        extract_adjuncts_g_per_l=draw(st.dictionaries(st.text(max_size=5), wild_numbers, max_size=2)),
        rule_settings=draw(
            st.dictionaries(st.sampled_from(["outside_warning_h", "nonsense"]), wild_numbers, max_size=1)
        ),
    )
    data = st.dictionaries(st.sampled_from(KEYS), wild_values, max_size=4)
    happened = st.tuples(moments, st.sampled_from(EventKind), data)
    measured = st.tuples(moments, gravities, st.sampled_from([0.0, 0.7]) | wild_numbers)
    said = st.tuples(st.sampled_from([BEER, GRAVITY]), moments, wild_numbers | st.floats(0.99, 1.1))
    return Story(
        told,
        [Event(f"E{n}", *one) for n, one in enumerate(draw(st.lists(happened, max_size=6)))],
        [
            GravityMeasurement(f"M{n}", at, sg, sd_points=sd)
            for n, (at, sg, sd) in enumerate(draw(st.lists(measured, max_size=6)))
        ],
        [Reading(series, to_ms(at), value) for series, at, value in draw(st.lists(said, max_size=12))],
        draw(st.lists(st.sampled_from(["{}", "[]", "null", '{"at": 4}']), max_size=1)),
    )


def put(directory: Path, story: Story) -> None:
    """Straight into the store: whatever is there, however it came there."""
    connection = sqlite3.connect(directory / "home.db")
    with connection:
        told = story.batch
        row = ("home", told.id, told.vessel, to_ms(told.pitched_at), 0, to_text(told))
        connection.execute(
            "INSERT INTO batch (site, id, vessel, pitched_at_ms, ended, batch) VALUES (?,?,?,?,?,?)", row
        )
        events = [(one.id, to_ms(one.at), to_text(one)) for one in story.events]
        events += [(f"RAW{n}", 0, text) for n, text in enumerate(story.raw)]
        insert = "INSERT INTO {} (site, id, batch, at_ms, {}) VALUES ('home', ?, 'BATCH1', ?, ?)"
        connection.executemany(insert.format("event", "event"), events)
        measurements = [(one.id, to_ms(one.at), to_text(one)) for one in story.measurements]
        connection.executemany(insert.format("measurement", "measurement"), measurements)
    connection.close()


def steady(start: datetime, days: int) -> list[Reading]:
    """The other fermenter, an hour apart."""
    return [Reading(OTHER, to_ms(start + timedelta(hours=hour)), 19.0) for hour in range(24 * days)]


def judged(directory: Path, story: Story | None) -> Judgement | None:
    """What is said of the other batch in the end."""
    with open_writer(directory, "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW - 90 * DAY)
        put(directory, Story(replace(batch("OTHER", "right"), pitched_at=NOW - 3 * DAY), [], [], [], []))
        if story is not None:
            put(directory, story)
        return _lived(writer, directory, story)


def _lived(writer: Writer, directory: Path, story: Story | None) -> Judgement | None:
    inbox = open_inbox(directory, "home")
    for begins in range(2):  # and once more from the start, with all of it there
        book = Logbook(writer, inbox)
        book.begin(NOW + begins * DAY)
        readings: list[Any] = steady(NOW - 3 * DAY, 3) if begins == 0 else []
        if story is not None and begins == 0:
            readings += story.readings
        book.take(Intake(tuple(readings)))
        for hours in (0, 3, 30):
            book.decide(NOW + begins * DAY + timedelta(hours=hours))
    inbox.close()
    return writer.judgement("OTHER")


@cache
def undisturbed() -> Judgement | None:
    with tempfile.TemporaryDirectory() as directory:
        return judged(Path(directory), None)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(stories())
def test_whatever_is_said_of_one_batch_nothing_stops_and_the_other_is_judged_the_same(story: Story) -> None:
    with tempfile.TemporaryDirectory() as directory:
        assert judged(Path(directory), story) == undisturbed()
