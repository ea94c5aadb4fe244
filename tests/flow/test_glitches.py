"""What a probe says that beer cannot be: kept, shown as such, and asked back about; nothing rests on it."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.support.running import Site, probe, probe_of, serial_source, until, value_of, vessel
from tests.support.terminal import Board

MINUTE = timedelta(minutes=1)


def line(at: datetime, **said: float) -> str:
    return json.dumps({"at": at.isoformat(), **said})


@pytest.mark.parametrize("glitch_c", [38.0, 54.0])
def test_seconds_of_a_glitch_are_no_warmest_temperature_to_prime_by(tmp_path: Path, glitch_c: float) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(
        vessel(),
        serial_source("board", port, 'time_field = "at"', form="json"),
        probe("beer", "board", "t"),
    )
    now = datetime.now(UTC)
    steady = [(now - 10 * MINUTE * step, 19.0 if step > 200 else 20.0) for step in range(280, 0, -1)]
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        site.open_batch("left")
        board.say("")
        for start in range(0, 280, 40):
            board.say(*(line(at, t=value) for at, value in steady[start : start + 40]))
            until(lambda: len(site.readings("beer")) == start + 40, "it is stored", seen=site.log)  # noqa: B023
        glitch_at = now - 5 * MINUTE
        board.say(line(glitch_at, t=glitch_c))
        shown = site.until_status(lambda said: probe_of(said, "beer")["flagged"], "the glitch is flagged")
        assert value_of(shown, "beer") == 20.0, "the last value that can be believed"
        board.say(line(glitch_at + timedelta(seconds=10), t=20.0))
        site.until_status(lambda said: not probe_of(said, "beer")["flagged"], "it is over")
        assert watching.stop() == 0
    assert glitch_c in {row.value for row in site.readings("beer")}, "the row stays in the store"
    words = ("--package", "heavy-glass", "--although-not-safe", "--yes")
    told = " ".join(site.run("batch", "package", "left", *words).stdout.split())
    assert "by the probe: at most 20.0 °C in the last week" in told


def test_a_probe_that_was_put_elsewhere_is_believed_once_it_has_stood(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    site.configure(
        vessel(), serial_source("board", port, 'time_field = "at"', form="json"), probe("beer", "board", "t")
    )
    now = datetime.now(UTC)
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", *(line(now - 40 * MINUTE + MINUTE * step, t=24.5) for step in range(5)))
        board.say(*(line(now - 35 * MINUTE + MINUTE * step, t=12.0) for step in range(12)))
        until(lambda: len(site.readings("beer")) == 17, "it is stored", seen=site.log)
        site.until_status(lambda said: value_of(said, "beer") == 12.0, "it is believed")
        assert watching.stop() == 0
    assert [bool(row.flags) for row in site.readings("beer")] == [False] * 5 + [True] * 10 + [False] * 2


Wrong = tuple[str, str, float, str]
WRONG: list[Wrong] = [
    ("beer-temperature", "°C", 66.2, "reads 66.2: is this °F?"),
    ("beer-temperature", "°C", 50.0, "reads 50: is this °F?"),
    ("beer-temperature", "°F", 19.0, "reads 19: is this °C?"),
    ("gravity", "SG", 12.3, "reads 12.3: is this °P or points?"),
    ("gravity", "SG", 48.0, "reads 48: is this points?"),
    ("gravity", "°P", 1.048, "reads 1.048: is this SG?"),
    ("gravity", "points", 1.048, "reads 1.048: is this SG?"),
]


@pytest.mark.parametrize(("quantity", "unit", "number", "asked"), WRONG)
def test_a_wrong_unit_is_asked_about_on_the_screen(
    tmp_path: Path, quantity: str, unit: str, number: float, asked: str
) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    own = (f'quantity = "{quantity}"', f'unit = "{unit}"')
    site.configure(vessel(), serial_source("board", port), probe("odd", "board", "x", *own))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", f"x={number}")
        said: Mapping[str, Any] = site.until_status(lambda said: probe_of(said, "odd")["flagged"], "it is asked")
        assert asked in probe_of(said, "odd")["flagged"]
        assert 'set unit = "' in probe_of(said, "odd")["flagged"]
        assert value_of(said, "odd") is None, "nothing is made of it"
        assert asked in " ".join(site.run("status").stdout.split())
        watching.says(asked)


def test_a_beer_that_is_nearly_finished_in_plato_is_believed(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    own = ('quantity = "gravity"', 'unit = "°P"')
    site.configure(vessel(), serial_source("board", port), probe("float", "board", "x", *own))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", "x=2.1", "x=1.6", "x=1.1")
        until(lambda: len(site.readings("float")) == 3, "it is stored", seen=site.log)
        assert {row.flags for row in site.readings("float")} == {0}
