"""A probe that is moved to another fermenter: each beer is judged by what was said in it, and by nothing else."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.support.running import Site, probe, probe_of, serial_source, until, vessel
from tests.support.terminal import Board

HALF_HOUR = timedelta(minutes=30)
FINISHED_SG, FRESH_SG = 1.010, 1.052


def configured(site: Site, port: Path, *, float_in: str) -> None:
    site.configure(
        vessel("left"),
        vessel("right"),
        serial_source("board", port, 'time_field = "at"', form="json"),
        probe("float", "board", "g", 'quantity = "gravity"', "silent_after_s = 3600", vessel=float_in),
    )


def line(at: datetime, gravity_sg: float) -> str:
    return json.dumps({"at": at.isoformat(), "g": gravity_sg})


def trend(site: Site, batch: str) -> Mapping[str, Any] | None:
    """What `bottle` rests on: judged from the store."""
    said: Mapping[str, Any] = json.loads(site.run("bottle", batch, "--json").stdout)
    found: Mapping[str, Any] | None = said["judgement"]["trend"]
    return found


def test_each_beer_is_judged_by_what_the_float_said_in_it_there_and_back(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    now = datetime.now(UTC)
    falling = [
        (now - step * HALF_HOUR, FINISHED_SG + 0.0004 * step)  # a day and a half of a ferment that nears its end
        for step in range(80, 0, -1)
    ]
    configured(site, port, float_in="left")
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        left = site.open_batch("left")
        right = site.open_batch("right")
        board.say("", *(line(at, value) for at, value in falling))
        until(lambda: len(site.readings("float")) == len(falling), "all of it is stored", seen=site.log)
        assert watching.stop() == 0
    configured(site, port, float_in="right")
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        moved = probe_of(site.status(), "float")
        assert "not heard since it was moved here from left" in moved["flagged"], "its last word is another beer's"
        board.say("", line(datetime.now(UTC), FRESH_SG))
        site.until_status(lambda said: probe_of(said, "float").get("value_sg") == FRESH_SG, "the fresh wort is shown")
        assert watching.stop() == 0
    told = trend(site, left)
    assert told is not None, "the left beer keeps what was said of it"
    assert told["gravity_sg"] < 1.02
    other = trend(site, right)
    assert other is None or other["gravity_sg"] > 1.04, "the right beer never had the left one's gravity"
    configured(site, port, float_in="left")
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", line(datetime.now(UTC), FINISHED_SG))
        until(lambda: len(site.readings("float")) == len(falling) + 2, "it speaks again", seen=site.log)
        assert watching.stop() == 0
    back = trend(site, left)
    assert back is not None
    assert back["gravity_sg"] < 1.02, "what it said in the fresh wort is not the left beer's when it is back"
