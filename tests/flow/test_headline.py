"""The first line of `fermwatch status`, from a running watcher, as one thing after another goes wrong."""

from pathlib import Path

from tests.support.running import Site, probe, probe_of, serial_source, until, vessel
from tests.support.terminal import Board


def says(site: Site, first_line: str) -> None:
    until(
        lambda: site.run("status").stdout.partition("\n")[0] == f"home: {first_line}",
        f"the first line is {first_line!r}",
        seen=lambda: site.run("status").stdout + site.log(),
    )


def test_the_first_line_is_the_worst_that_is_true(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    air = probe("left-air", "board", "a", 'quantity = "air-temperature"')
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"), air)
    board = Board(port)
    board.plug_in()
    with site.watched() as watching:
        watching.says("is connected")
        says(site, "Left: 2 probes not heard yet.")
        board.say("", "t=19.0 a=18.0")
        says(site, "All well.")
        assert site.run("status", "--exit-status").returncode == 0

        board.say("t=-127 a=85")
        says(site, "Left: 2 probes faulty.")
        board.say("t=19.0 a=18.0")
        says(site, "All well.")

        board.unplug()
        until(lambda: site.status()["headline"]["matter"] == "sources", "it is away", seen=lambda: str(site.status()))
        assert "Board is away since" in site.run("status").stdout.partition("\n")[0]
        assert probe_of(site.status(), "left-beer")["freshness"] == "cut off"
        assert "all 2 probes cut off, heard just now" in site.run("status").stdout
        assert site.run("status", "--exit-status").returncode == 1
        assert watching.stop() == 0
    says(site, "Nobody is watching.")
    assert site.status()["headline"]["level"] == "critical"
