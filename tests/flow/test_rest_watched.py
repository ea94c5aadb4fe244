"""A planned rest beside a running watcher: the alarm of heat falls quiet in seconds, and speaks where it runs away."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.support.running import Site, probe, serial_source, vessel
from tests.support.terminal import Board

SOON = "[rules]\noutside_warning_h = 0.0005\noutside_critical_min = 0.03\noutside_clears_min = 0.03"


def heat(said: Mapping[str, Any]) -> Mapping[str, Any]:
    return next((alarm for alarm in said["alarms"] if alarm["rule"] == "temperature-high"), {})


def test_a_declared_rest_quietens_the_heat_and_its_end_brings_it_back(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel("left"), serial_source("board", tmp_path / "port"), probe("left-beer", "board", "t"), SOON)
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("source board is connected")
        site.open_batch("left")  # from 17 to 21 °C

        def calling(said: Mapping[str, Any]) -> bool:
            board.say("t=22.4")
            return bool(heat(said).get("needs_attention"))

        site.until_status(calling, "the heat calls somebody")
        done = site.run("note", "left", "rest", "--target", "22.4C", "--until", "3d", "--yes", "--even-so")
        assert done.returncode == 0, done.stderr
        quiet = site.until_status(lambda said: not calling(said), "the rest is known")
        assert heat(quiet)["suppressed_by"] == "planned rest"
        told = " ".join(site.run("status").stdout.split())
        assert "Planned rest at 22.4 °C until" in told
        assert "within the way to the planned rest" in told
        assert site.run("note", "left", "back-to-range").returncode == 0
        assert "Planned" not in site.run("status").stdout


def test_heat_that_is_over_calls_nobody_and_is_told_calmly_until_somebody_has_seen_it(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure(vessel("left"), serial_source("board", tmp_path / "port"), probe("left-beer", "board", "t"), SOON)
    with Board(tmp_path / "port") as board, site.watched() as watching:
        watching.says("source board is connected")
        site.open_batch("left")
        site.see_life("left")

        def calling(said: Mapping[str, Any]) -> bool:
            board.say("t=22.4")
            return bool(heat(said).get("needs_attention"))

        site.until_status(calling, "the heat calls somebody")
        assert "Left needs you" in site.run("status").stdout

        # The packet says more than the kind: beer jumps to no other temperature in a test's time.
        done = site.run("batch", "edit", "left", "--temperature", "17-24", "--yes")
        assert done.returncode == 0, done.stderr

        def over(said: Mapping[str, Any]) -> bool:
            board.say("t=22.4")
            return not heat(said)["stands"]

        site.until_status(over, "the heat is over")
        told = site.run("status").stdout
        assert "needs you" not in told, told
        assert "An alarm is over since today" in told
        assert "Over, and not seen\n  temperature-high left" in site.run("alarms").stdout
        assert site.run("ack", "temperature-high").returncode == 0
        assert "An alarm" not in site.run("status").stdout
