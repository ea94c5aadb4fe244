"""A configuration that no watcher could live with is told by `check`, and by every other command that reads it."""

import os
from dataclasses import replace
from pathlib import Path

import pytest

from tests.dashboard.feeds import dashboard
from tests.dashboard.snapshots import snapshot
from tests.dashboard.test_keys import SIZE, until_shown
from tests.support.running import Site, mqtt_source, probe, serial_source, vessel

BOARD = serial_source("board", Path("/dev/board"))


@pytest.fixture
def site(tmp_path: Path) -> Site:
    site = Site(tmp_path / "site")
    site.configure(vessel(), BOARD, probe("left-beer", "board", "t"))
    return site


NUL, NO_NUMBER = "holds a NUL character.", "must be a number (it says true)."
RULES, POINTS = "rules = { outside_warning_h = true }", "points = [[0, true], [20, 20.1]]"


@pytest.mark.parametrize(
    ("old", "new", "key", "told"),
    [
        ('port = "/dev/board"', 'port = "a\\u0000b"', "source[1].port", NUL),
        ('directory = "store"', 'directory = "a\\u0000b"', "store.directory", NUL),
        ('name = "Left"', 'name = "L\\u0000"', "vessel[1].name", NUL),
        ("volume_l = 30", "volume_l = true", "vessel[1].volume_l", NO_NUMBER),
        ("settle_s = 0", "settle_s = true", "source[1].settle_s", NO_NUMBER),
        ("volume_l = 30", f"volume_l = 30\n{RULES}", "vessel[1].rules.outside_warning_h", NO_NUMBER),
        ("channel = 't'", f"channel = 't'\n{POINTS}", "probe[1].points[1][2]", NO_NUMBER),
    ],
    ids=["port", "store", "name", "volume", "option", "rule", "point"],
)
def test_what_cannot_be_meant_is_told_with_its_line(site: Site, old: str, new: str, key: str, told: str) -> None:
    text = site.config.read_text()
    line = text[: text.index(old)].count("\n") + new.count("\n") + 1
    site.config.write_text(text.replace(old, new))
    said = site.run("check")
    assert said.returncode != 0
    assert f"fermwatch.toml:{line}: {key}: {told}" in said.stderr
    assert "Traceback" not in said.stderr


def test_a_switch_stays_one(site: Site) -> None:
    site.configure(vessel(), mqtt_source("broker", 1883, "a/b", "tls = true"), probe("left-beer", "broker", "t"))
    assert "must be a number" not in site.run("check").stderr


@pytest.mark.parametrize("words", [("check",), ("status",), ("watch",)])
def test_a_configuration_that_is_a_pipe_is_told_as_that(site: Site, words: tuple[str, ...]) -> None:
    site.config.unlink()
    os.mkfifo(site.config)
    said = site.run(*words)
    assert said.returncode != 0
    assert "fermwatch.toml: it is no regular file." in said.stderr
    assert "write it into a file" in said.stderr


@pytest.mark.parametrize("words", [("status",), ("alarms",), ("batch", "list"), ("measure", "left")])
def test_before_the_first_watch_a_mistake_is_told_in_place_of_the_store_that_is_not_there(
    site: Site, words: tuple[str, ...]
) -> None:
    """They sent one to `fermwatch watch`, which could not start."""
    site.config.write_text(site.config.read_text().replace("volume_l = 30", 'volume_l = "big"'))
    said = site.run(*words)
    assert said.returncode == 78
    assert "fermwatch.toml:6: vessel[1].volume_l: " in said.stderr
    assert "What it holds to the brim, litres." in said.stderr
    assert "There is no store" not in said.stderr


@pytest.mark.parametrize("words", [("status",), ("alarms",)])
def test_where_nobody_watches_any_more_a_mistake_is_told_with_its_place_and_remedy(
    site: Site, words: tuple[str, ...]
) -> None:
    with site.watched() as watching:
        watching.stop()
    told = " ".join(site.run(*words).stdout.split())
    assert "The watcher was stopped today" in told
    assert "start `fermwatch watch`" in told
    site.config.write_text(site.config.read_text().replace("volume_l = 30", 'volume_l = "big"'))
    told = " ".join(site.run(*words).stdout.split())
    assert f"mend{site.config}:6:vessel[1].volume_l:" in told.replace(" ", ""), "a long path is broken somewhere"
    assert "What it holds to the brim, litres. Then start `fermwatch watch`." in told
    asked = site.run("batch", "open", "Pale", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--yes")
    assert asked.returncode == 0, asked.stderr
    told = " ".join(site.run(*words).stdout.split())
    assert "Then start `fermwatch watch`; what was asked since waits for it." in told
    elsewhere = " ".join(site.run("--store", str(site.store), *words).stdout.split())
    assert "mend" not in elsewhere, "the store was named apart from any configuration"


async def test_the_dashboard_shows_it_whole() -> None:
    mistake = (
        "fermwatch.toml:6: vessel[1].volume_l: must be a number (it says 'big'). What it holds to the brim, litres."
    )
    app = dashboard(replace(snapshot(), watcher=None, mistake=mistake))
    async with app.run_test(size=SIZE) as pilot:
        shown = " ".join((await until_shown(pilot, "`fermwatch watch`")).split())
    assert "nobody has watched yet: the configuration has a mistake" in shown
    assert f"nobody has watched yet: mend {mistake} Then start `fermwatch watch`" in shown
