"""The demo without a terminal: three stories to their end, and nothing left behind."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from fermwatch.demo.running import SITE
from tests.support.running import until

DEMO = [sys.executable, "-m", "fermwatch", "demo"]


def demo_environment(home: Path) -> dict[str, str]:
    return {**os.environ, "TMPDIR": str(home), "PYTHONIOENCODING": "utf-8"}


def test_in_a_pipe_it_tells_three_stories_to_their_end_and_leaves_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        DEMO, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, timeout=120,
        env=demo_environment(tmp_path),
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    told = done.stdout
    for beginning, end in (
        ("Middle fermenter   temperature-high no longer quiet", "Middle fermenter   temperature-high cleared"),
        ("Right fermenter    stalled raised", "Right fermenter    stalled cleared"),
        ("Left fermenter     by hand", "Left fermenter, Harvest Supper Ale"),
        ("Left fermenter     without-effect raised", "Left fermenter     without-effect cleared"),
    ):
        assert told.index(beginning) < told.index(end), told
    assert list(tmp_path.iterdir()) == []
    ending = told.partition("How it ends:")[2]
    assert "not pitched" not in ending, "the last picture is of the story's last instant"
    assert "ahead of now" not in ending
    assert "probes live" in ending


@pytest.mark.timeout(900)  # ten hours of beer are a minute, on a machine that has nothing else to do
def test_live_its_fridge_is_set_by_a_plan_and_the_door_that_somebody_left_open_is_told_and_over(
    tmp_path: Path,
) -> None:
    """Over a virtual controller on a port of its own, through the real driver, guard and journal."""
    store = tmp_path / "store"
    store.mkdir()
    with subprocess.Popen(
        [*DEMO, "--serve", str(store)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=demo_environment(tmp_path)
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        seen: dict[str, str] = {}

        def told() -> dict[str, Any]:
            said = status_of(store)
            lane = next(one for one in said["fermenters"] if one["vessel"] == "left")
            doors = [one for one in lane["alarms"] if one["rule"] == "without-effect"]
            for alarm in doors:
                seen.setdefault(alarm["condition"], f"{alarm['statement']}. {alarm['remedy']}")
            return {"regulators": lane["regulators"], "over": bool(seen) and not any(one["stands"] for one in doors)}

        until(lambda: told()["over"], "the door was told of, and is over", guard_s=400, seen=lambda: str(seen))
        assert "as with an open door. Close the door" in seen["raised"]
        (fridge,) = told()["regulators"]
        assert (fridge["name"], fridge["degree"], fridge["trouble"]) == ("fridge", "set", None)
        until(lambda: told()["regulators"][0]["set_point_c"] == 20.0, "the plan goes on", guard_s=400)
        process.terminate()
        process.wait(30)


def status_of(store: Path) -> Any:  # noqa: ANN401 - JSON
    done = subprocess.run(
        [sys.executable, "-m", "fermwatch", "--store", str(store), "--site", SITE, "status", "--json"],
        capture_output=True, check=True, timeout=60,
    )  # fmt: skip
    return json.loads(done.stdout)


def test_a_reader_that_goes_away_and_a_signal_end_it_cleanly(tmp_path: Path) -> None:
    with subprocess.Popen(
        DEMO, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=demo_environment(tmp_path)
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.send_signal(signal.SIGTERM)
        _, said = process.communicate(timeout=60)
    assert process.returncode == 128 + signal.SIGTERM, said
    assert b"Traceback" not in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("words", "why"), [(["--speed", "0"], "--speed 0"), (["nope"], "no such scenario")])
def test_a_mistake_is_one_sentence(words: list[str], why: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [*DEMO, *words], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, timeout=60,
        env=demo_environment(tmp_path),
    )  # fmt: skip
    assert done.returncode != 0
    assert why in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_live_and_in_a_hurry_no_probe_is_taken_for_one_whose_clock_is_ahead(tmp_path: Path) -> None:
    store = tmp_path / "store"
    store.mkdir()
    with subprocess.Popen(
        [*DEMO, "--serve", str(store)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=demo_environment(tmp_path)
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        seen = set()
        for _ in range(12):
            time.sleep(0.5)
            lanes = status_of(store)["fermenters"]
            seen |= {(probe["freshness"], probe["flagged"]) for lane in lanes for probe in lane["probes"]}
        process.terminate()
        process.wait(30)
    assert {freshness for freshness, _ in seen} == {"live"}, seen
