"""What goes wrong outside: each gets one clear line with the remedy, in the log and in the status; the rest goes on."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.support.broker import Broker, free_port
from tests.support.running import (
    Site,
    Watching,
    mqtt_source,
    probe,
    probe_of,
    serial_source,
    source_of,
    until,
    value_of,
    vessel,
)
from tests.support.terminal import Board

# Root may open everything, unless that right is taken away.
NO_MIGHT = ("setpriv", "--bounding-set=-dac_override,-dac_read_search")


def beside(tmp_path: Path) -> tuple[str, str]:
    """A well-behaved board beside whatever misbehaves, and its probe."""
    return serial_source("good", tmp_path / "good"), probe("good-beer", "good", "t")


def goes_on(site: Site, board: Board, value: float) -> None:
    """What the well-behaved board says is stored."""
    board.say("", f"t={value}")
    until(lambda: [one.value for one in site.readings("good-beer")][-1:] == [value], "the rest goes on", seen=site.log)


def one_line(watching: Watching, *words: str) -> None:
    """The log holds one line with these words, and no traceback."""
    watching.says(words[0])
    lines = [line for line in watching.log().splitlines() if all(word in line for word in words)]
    assert len(lines) == 1, watching.log()
    assert "Traceback" not in watching.log()


def in_status(site: Site, source: str, state: str, *words: str) -> None:
    """The source comes to be in that state, with these words of why; the first of them also in plain text."""

    def says_so(status: Mapping[str, Any]) -> bool:
        said = source_of(status, source)
        return said["state"] == state and all(word in said["detail"] for word in words)

    site.until_status(says_so, f"{source} is {state}: {words}")
    until(lambda: words[0] in " ".join(site.run("status").stdout.split()), f"it is said: {words[0]}", seen=site.log)


def test_a_port_that_is_not_there_and_one_that_is_unplugged(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    port = tmp_path / "port"
    site.configure(vessel(), *beside(tmp_path), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(tmp_path / "good") as good, site.watched() as watching:
        one_line(watching, "WARNING source board:", str(port))
        in_status(site, "board", "unavailable", "There is no port", str(port))
        with Board(port):
            watching.says("source board is connected")
        until(lambda: watching.log().count("WARNING source board:") >= 2, "the loss is told", seen=watching.log)
        in_status(site, "board", "unavailable", "There is no port", str(port))
        goes_on(site, good, 19.5)


def test_a_port_without_permission(tmp_path: Path) -> None:
    site = Site(tmp_path / "site", run_by=NO_MIGHT if os.geteuid() == 0 else ())
    port = tmp_path / "port"
    site.configure(vessel(), *beside(tmp_path), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(tmp_path / "good") as good, Board(port):
        port.resolve().chmod(0o000)
        with site.watched() as watching:
            one_line(watching, "WARNING source board:", "usermod")
            in_status(site, "board", "refused", "usermod")
            goes_on(site, good, 19.5)


def test_an_absent_broker(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    nobody = free_port()
    site.configure(
        vessel(), *beside(tmp_path), mqtt_source("broker", nobody, "a/{b}"), probe("left-beer", "broker", "b")
    )
    with Board(tmp_path / "good") as good, site.watched() as watching:
        one_line(watching, "WARNING source broker:", f"No broker answers at 127.0.0.1:{nobody}", "Is it running")
        in_status(site, "broker", "unavailable", "No broker answers")
        goes_on(site, good, 19.5)


@pytest.mark.needs_broker
def test_a_bad_login(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.directory.mkdir()
    password = site.directory / "password"
    password.write_text("wrong")
    password.chmod(0o600)
    with Broker(tmp_path / "broker", users={"board": "right"}) as broker, Board(tmp_path / "good") as good:
        login = ('username = "board"', f'password_file = "{password}"')
        site.configure(
            vessel(),
            *beside(tmp_path),
            mqtt_source("broker", broker.port, "a/{b}", *login),
            probe("left-beer", "broker", "b"),
        )
        with site.watched() as watching:
            one_line(watching, 'refuses the login of "board"', "Check the password")
            in_status(site, "broker", "refused", 'refuses the login of "board"')
            assert "wrong" not in watching.log()
            goes_on(site, good, 19.5)


def test_garbage_at_full_speed(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    port = tmp_path / "port"
    site.configure(vessel(), *beside(tmp_path), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(tmp_path / "good") as good, Board(port) as board, site.watched() as watching:
        watching.says("source board is connected")
        sent, garbage = 0, bytes(range(1, 256)) * 64 + b"\n\x1b[2J\n" * 20
        while sent < 2_000_000:
            sent += board.write(garbage)
        until(lambda: board.write(b"\n") > 0, "the port takes more")
        goes_on(site, good, 19.5)

        def speaks_again() -> bool:
            board.say("", "t=18.25")
            return [one.value for one in site.readings("left-beer")][-1:] == [18.25]

        until(speaks_again, "the board is understood again", seen=site.log)
        assert {one.value for one in site.readings("left-beer")} == {18.25}
        one_line(watching, "source board said something that is no reading")
        said = site.until_status(lambda status: source_of(status, "board")["rejected"] > 1000, "it is counted")
        assert source_of(said, "board")["last_rejection"]
        assert not any(ord(sign) < 32 for sign in watching.log().replace("\n", ""))


def test_numbers_that_are_none_or_cannot_be(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    port = tmp_path / "port"
    site.configure(vessel(), serial_source("board", port), probe("left-beer", "board", "t"))
    with Board(port) as board, site.watched() as watching:
        watching.says("source board is connected")
        board.say("", "t=nan", "t=1e999", "t=1_0", "t=19.5")
        until(lambda: len(site.readings("left-beer")) == 1, "what is a number is stored", seen=site.log)
        board.say("t=85.0")
        until(lambda: len(site.readings("left-beer")) == 2, "so is what means nothing", seen=site.log)
        assert [one.value for one in site.readings("left-beer")] == [19.5, 85.0]
        site.until_status(lambda said: source_of(said, "board")["rejected"] == 3, "three are rejected")
        one_line(watching, "source board said something that is no reading: t ")
        one_line(watching, "left-beer", "85.0 °C means that the probe measured nothing", "wiring")
        assert "measured nothing" in probe_of(site.status(), "left-beer")["flagged"]
        assert "measured nothing" in " ".join(site.run("status").stdout.split())


@pytest.mark.needs_broker
def test_a_payload_of_a_megabyte_and_a_topic_full_of_escapes(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker:
        site.configure(
            vessel(),
            mqtt_source("broker", broker.port, "cellar/{fermenter}/{what}"),
            probe("left-beer", "broker", "left/beer"),
        )
        with site.watched() as watching:
            watching.says("is connected")
            broker.publish("cellar/left/beer", b"1" * 1_000_000)
            broker.publish("cellar/[b]/\u202ebeer", "19.5")
            broker.publish("cellar/left/beer", "19.4")
            until(lambda: len(site.readings("left-beer")) > 0, "the rest goes on", seen=site.log)
            assert [one.value for one in site.readings("left-beer")] == [19.4]
            one_line(watching, "source broker said something that is no reading: left/beer")
            one_line(watching, "has a channel that no probe uses: [b]/\\u202ebeer")


def test_a_fermenter_named_in_markup_and_escapes_is_shown_as_it_is_written(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    name = "[/] \\u001b[31mred"
    site.configure(f'[[vessel]]\nid = "left"\nname = "{name}"\nvolume_l = 30')
    with site.watched():
        spoken = site.run("status").stdout
    assert "[/]" in spoken
    assert "\x1b" not in spoken


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ('[[vessel]]\nid = "left"\nnam = "Left"\nvolume_l = 30', ("fermwatch.toml:5", "vessel[1].nam", "name")),
        ("[rules]\noutside_warning_hours = 2", ("rules", "outside_warning_h")),
        ("[site\n", ("fermwatch.toml", "is not TOML", "line 3")),
        ('[[source]]\nname = "a"\ndriver = "seriall-line"', ("fermwatch.toml:5", "seriall-line", "serial-line")),
        ("[rules]\noutside_warning_h = nan", ("rules", "finite")),
    ],
)
def test_a_typo_in_the_configuration_is_one_sentence_with_its_place(
    tmp_path: Path, table: str, words: tuple[str, ...]
) -> None:
    site = Site(tmp_path / "site")
    site.configure(table)
    for command in ("watch", "check"):
        done = site.run(command)
        assert done.returncode == 78
        assert "Traceback" not in done.stderr
        assert len(done.stderr.splitlines()) <= 2
        assert all(word in done.stderr for word in words), done.stderr


def test_a_channel_that_the_driver_cannot_mean_is_told_before_anything_is_watched(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    columns = serial_source("board", tmp_path / "port", form="columns")
    site.configure(vessel(), columns, probe("left-beer", "board", "temperature"))
    done = site.run("watch")
    assert done.returncode == 78
    assert 'Columns are counted from "1"' in done.stderr
    assert "fermwatch.toml" in done.stderr


def test_no_configuration_at_all_says_where_to_write_one(tmp_path: Path) -> None:
    site = Site(tmp_path / "nowhere")
    site.directory.mkdir()
    done = site.run("watch")
    assert done.returncode == 78
    assert "no such file" in done.stderr


def test_values_are_shown_for_a_probe_whose_name_is_markup(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    port = tmp_path / "port"
    site.configure(vessel(), serial_source("board", port, form="json"), probe("left-beer", "board", "[/]"))
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        board.say("", '{"[/]": 19.25, "\\u001b[31m": 4}')
        said = site.until_status(lambda status: value_of(status, "left-beer") is not None, "it is stored")
        assert value_of(said, "left-beer") == 19.25
        one_line(watching, "has a channel that no probe uses: \\x1b[31m")
