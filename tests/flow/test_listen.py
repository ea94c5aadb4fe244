"""`fermwatch listen`: what real lines and a real broker say becomes a configuration that a real watcher reads."""

import contextlib
import json
import os
import random
import subprocess
import sys
import termios
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fermwatch.cli import main
from fermwatch.commands import listen
from fermwatch_sim.one_wire import OneWireBus
from tests.flow.test_json import table
from tests.support.broker import Broker
from tests.support.running import Site, until, value_of
from tests.support.terminal import Board, Terminal

HOSTILE = '"evil": "\\u001b]0;taken\\u0007 [/b] \u202e \x7f"'
LINE = '{"beer": {"temp": 19.5}, "gravity": 1.048, "battery": 3.9}'


@contextlib.contextmanager
def speaking(say: Callable[[], None], every_s: float = 0.1) -> Iterator[None]:
    """Say it again and again."""
    ended = threading.Event()

    def on_and_on() -> None:
        while not ended.wait(every_s):
            say()

    thread = threading.Thread(target=on_and_on)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


@pytest.fixture
def board(tmp_path: Path) -> Iterator[Board]:
    with Board(tmp_path / "port") as board:
        yield board


def test_what_a_board_says_is_written_and_the_watcher_reads_it(tmp_path: Path, board: Board) -> None:
    site = Site(tmp_path)
    site.configure()
    with speaking(lambda: board.say(LINE)):
        done = site.run("listen", "--port", str(board.link), "--for", "2s", "--write", str(site.config))
        assert done.returncode == 0, done.stderr + done.stdout
        assert "its name tells of a temperature, and 19.5 fits °C alone" in " ".join(done.stdout.split())
        assert "what the device says of itself" in done.stdout
        before = site.config.read_text()
        again = site.run("listen", "--port", str(board.link), "--for", "2s", "--write", str(site.config))
        assert "gravity 1.048: configured already, as left-gravity." in again.stdout
        assert site.config.read_text() == before
        with site.watched():
            site.until_status(lambda status: value_of(status, "left-gravity") == 1.048, "the gravity is read")
            assert value_of(site.status(), "left-beer") == 19.5
            held = site.run("listen", "--port", str(board.link), "--for", "2s")
    assert held.returncode == 1
    told = " ".join(held.stdout.split())
    assert "is in use" in told
    assert "A port serves one program" in told
    assert "stop it while you listen" in told


def test_the_usual_speeds_are_tried_until_there_is_text(tmp_path: Path, board: Board) -> None:
    def say_at_9600() -> None:
        now = termios.tcgetattr(board._own)[5]
        board.write(b"t1=19.4\r\n" if now == termios.B9600 else os.urandom(64))

    site = Site(tmp_path)
    site.configure()
    with speaking(say_at_9600, 0.03):
        done = site.run("listen", "--port", str(board.link), "--for", "5s", "--json")
    said = json.loads(done.stdout)
    described = table("object | keys")
    assert set(said) == {"schema", *table("command | what stands beside `schema`")["listen"]}
    assert [one["channel"] for one in said["channels"]] == ["t1"]
    assert set(said["channels"][0]) == described["channel"]
    assert set(said["news"][0]) == described["news"]
    assert any("tries 9600" in one["text"] for one in said["news"])


def test_a_silent_port_and_one_that_is_not_there_are_told(tmp_path: Path, board: Board) -> None:
    away = "/dev/no-such-port"
    site = Site(tmp_path)
    site.configure()
    done = site.run("listen", "--port", str(board.link), "--port", away, "--for", "6s")
    assert done.returncode == 1
    assert "silent for 5 s" in done.stdout
    assert f"There is no port {away}" in " ".join(done.stdout.split())


def test_a_device_that_floods_with_nonsense_costs_neither_memory_nor_a_screenful(tmp_path: Path, board: Board) -> None:
    site = Site(tmp_path)
    site.configure()
    noise = random.Random(7)
    lines = [f'{{"k{noise.randrange(10**6)}": {noise.randrange(10**6)}, "t": "\\u001b[2J"}}' for _ in range(40)]
    flood = [*lines, "x" * 3000, "\x1b]0;taken\x07" * 200, "[" * 400, "9" * 500]
    with speaking(lambda: board.say(*noise.sample(flood, 8)), 0.005):
        done = site.run("listen", "--port", str(board.link), "--for", "3s", "--yes")
    assert done.returncode == 1  # nothing of it is worth a probe
    assert len(done.stdout) < 100_000
    assert not set(done.stdout) & {"\x1b", "\x07"}
    assert "nothing that fermwatch knows" in done.stdout or "whole numbers" in " ".join(done.stdout.split())


def test_without_a_terminal_it_is_asked_how_long() -> None:
    words = [sys.executable, "-m", "fermwatch", "listen", "--port", "/dev/null"]
    done = subprocess.run(words, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "--for 20s" in done.stderr


def test_what_cannot_be_added_leaves_the_configuration_as_it_was(tmp_path: Path, board: Board) -> None:
    site = Site(tmp_path)
    site.configure(
        f'[[source]]\nname = "mine"\ndriver = "serial-line"\nport = "{board.link}"\nformat = "json"\nbaud = 300'
    )
    before = site.config.read_text()
    with speaking(lambda: board.say("t1=19.4")):
        done = site.run("listen", "--port", str(board.link), "--for", "2s", "--write", str(site.config))
    assert done.returncode == 78
    assert "Nothing was written" in done.stderr
    assert "baud" in done.stderr
    assert site.config.read_text() == before
    assert [one.name for one in tmp_path.iterdir() if one.name.startswith(".")] == []


@pytest.mark.needs_broker
def test_what_a_broker_says_is_written_and_the_watcher_reads_it(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    site.configure()
    secret = tmp_path / "secret"
    secret.write_text("hop-cone-7\n")
    secret.chmod(0o600)
    with Broker(tmp_path / "broker", users={"me": "hop-cone-7"}) as broker:

        def say() -> None:
            broker.publish("cellar/left/float", f'{{"gravity": 1.047, {HOSTILE}}}')
            broker.publish("cellar/left/beer-temp", "66.2 F")
            broker.publish("cellar/left/odd\u202e[/b]", "\x1b[31m on fire")

        place = ("--broker", "127.0.0.1", "--broker-port", str(broker.port))
        refused = site.run("listen", *place, "--for", "3s")
        assert refused.returncode == 1
        assert "lets nobody in without a login" in " ".join(refused.stdout.split())
        login = ("--username", "me", "--password-file", str(secret))
        with speaking(say):
            done = site.run("listen", *place, *login, "--for", "3s", "--write", str(site.config))
            assert done.returncode == 0, done.stderr + done.stdout
            assert not set(done.stdout) & {"\x1b", "\x07", "\u202e"}
            assert "hop-cone-7" not in done.stdout + site.config.read_text()
            with site.watched():
                site.until_status(lambda status: value_of(status, "left-gravity") == 1.047, "the gravity is read")
                site.until_status(lambda status: value_of(status, "left-beer") == 19.0, "and the temperature")


@pytest.mark.needs_tmux
def test_a_person_names_what_was_heard_by_a_key_each(tmp_path: Path, board: Board) -> None:
    written = tmp_path / "fermwatch.toml"
    words = [sys.executable, "-m", "fermwatch", "listen", "--port", str(board.link), "--write", str(written)]
    with (
        speaking(lambda: board.say("t1=19.5 t2=4.5 g1=1.048"), 0.4),
        Terminal(f"fw-listen-{os.getpid()}", 80, 40) as terminal,
    ):
        terminal.open(["sh", "-c", f"{' '.join(words)}; cat"], {"HOME": str(tmp_path)})

        def sees(text: str) -> None:
            until(lambda: text in terminal.screen(), f"the screen shows {text!r}", seen=terminal.screen)

        sees("> g1 1.048: gravity in SG")
        terminal.press("x")
        sees("1 of 3: t1 19.5")
        terminal.press("b", "Enter")  # by habit: it names no fermenter
        sees("What do you call this fermenter?")
        terminal.press("Big green", "Enter")
        sees("What does it hold")
        terminal.press("five", "Enter")
        sees("five")
        sees("fermwatch: volume")
        terminal.press("23L", "Enter")
        sees("2 of 3: t2 4.5")
        sees("[a]")
        terminal.press("Enter")
        sees("In which fermenter?")
        terminal.press("Enter")
        sees("3 of 3: g1 1.048")
        terminal.press("Enter")
        sees("In which fermenter?")
        terminal.press("Enter")
        sees("Add this to")
        assert not written.exists()
        terminal.press("y")
        sees("which reads 3 probes of 1 source now")
    text = written.read_text()
    assert 'id = "big-green"\nname = "Big green"\nvolume_l = 23\n' in text
    assert [text.count(f'quantity = "{what}"') for what in ("beer-temperature", "air-temperature", "gravity")] == [
        1
    ] * 3


def test_the_thermometers_of_a_bus_are_heard_and_their_source_reads_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bus = OneWireBus(tmp_path / "w1")
    bus.plug_in()
    bus.measures("28-0316a2794d31", 19.5)
    bus.shows("28-0000000000ff", "broken")
    monkeypatch.setattr(listen, "BUS", bus.devices)
    written = tmp_path / "fermwatch.toml"
    written.write_text('[store]\ndirectory = "store"\n')
    assert main(["listen", "--one-wire", "--for", "1s", "--write", str(written)]) == 0
    said = capsys.readouterr().out
    assert "28-0316a2794d31 19.50 °C" in said
    assert "Hold one in your hand" in said
    assert "28-0000000000ff: it is no scratchpad" in said
    text = written.read_text()
    assert 'driver = "one-wire"' in text
    assert 'channel = "28-0316a2794d31"' in text
    assert "say air-temperature if it hangs in air" in text
    site = Site(tmp_path)
    with site.watched():
        site.until_status(lambda status: value_of(status, "left-beer") == 19.5, "the thermometer is read")
