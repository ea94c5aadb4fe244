"""The probe of a bottle store that fell silent: when it was last heard is one instant, whenever one looks."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.model.history import NOWHERE
from fermwatch.model.probe import Probe
from fermwatch.model.quantity import Quantity, Unit
from tests.support.command_line import PROBES, VESSELS, CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
DAY = timedelta(days=1)
PANTRY = Probe("pantry", NOWHERE, Quantity.STORE_TEMPERATURE, "board", "s", Unit.CELSIUS)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "200")
    desk = command_line(tmp_path / "store", NOW, capsys)
    with open_writer(desk.directory, "home", NOW, ballast_bytes=4096) as writer:
        writer.declare("Europe/Vienna", VESSELS, [*PROBES, PANTRY], NOW - 30 * DAY)
    desk.done(
        *("batch", "open", "Old Ale", "--vessel", "left", "--yeast", "clean-ale", "--volume", "18L", "--yes"),
        *("--og", "1.052", "--at", "2026-02-01 18:00"),
    )
    desk.done(
        *("batch", "package", "Old Ale", "--package", "soda-pet", "--volumes", "2.4", "--warmest", "20C"),
        *("--at", "2026-02-20 12:00", "--yes", "--although-not-safe", "--even-so"),
    )
    return desk


def last_heard(desk: CommandLine) -> set[str]:
    with desk.watched():
        text = " ".join(desk.type("status").text.split())
    return set(re.findall(r"last heard ([^.,()]*\d\d:\d\d)", text))


def test_it_is_the_same_instant_on_every_day_after(desk: CommandLine) -> None:
    heard_at = datetime(2026, 2, 27, 10, 42, tzinfo=UTC)
    desk.hear("pantry", {heard_at - timedelta(minutes=10 * step): 15.0 for step in range(300)})
    for days in (0.0, 0.4, 1.0, 5.0, 30.0):
        desk.clock.at = NOW + days * DAY
        assert last_heard(desk) <= {"Fri 11:42", "27 Feb 11:42"}, days  # in Vienna
        assert last_heard(desk), days


def test_a_probe_that_spoke_once_tells_where_the_beer_stood_then(desk: CommandLine) -> None:
    desk.hear("pantry", {datetime(2026, 2, 20, 11, 0, tzinfo=UTC): 15.0})  # as it was packaged
    assert last_heard(desk) == {"20 Feb 12:00"}
    assert "at 15.0 °C, last heard" in desk.type("status").text
