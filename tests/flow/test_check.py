"""`fermwatch check` over real wires and a real watcher: one line each, with the remedy, and an exit status."""

import json
from pathlib import Path

import pytest

from tests.flow.test_json import table
from tests.flow.test_listen import speaking
from tests.support.broker import Broker, free_port
from tests.support.running import Site, mqtt_source, probe, serial_source, until, vessel
from tests.support.terminal import Board


def checks(site: Site, *words: str) -> tuple[int, dict[tuple[str, str], str]]:
    """The exit status, and the texts by what was looked at and its worth."""
    done = site.run("check", "--json", *words)
    assert done.returncode in {0, 1}, done.stderr
    said = json.loads(done.stdout)
    described = table("object | keys")["check"]
    assert set(said) == {"schema", *table("command | what stands beside `schema`")["check"]}
    assert all(set(one) == described for one in said["checks"])
    found: dict[tuple[str, str], str] = {}
    for one in said["checks"]:
        key = (one["what"], one["worth"])
        found[key] = f"{found.get(key, '')} {one['text']} {one['remedy'] or ''}"
    return done.returncode, found


def test_a_board_is_opened_only_where_somebody_waits_and_what_arrives_is_told(tmp_path: Path) -> None:
    site = Site(tmp_path)
    with Board(tmp_path / "port") as board:
        both = (probe("left-beer", "board", "t1"), probe("left-odd", "board", "t7", "every_s = 1"))
        site.configure(vessel(), serial_source("board", board.link), *both)
        status, found = checks(site)
        assert status == 0
        assert "was not opened" in found["source", "look"]
        assert "nobody watches" in found["watcher", "look"]
        with speaking(lambda: board.say("t1=19.4 t2=4.1")):
            status, found = checks(site, "--listen", "2s")
        assert status == 1
        assert "answers" in found["source", "ok"]
        assert "left-beer was heard" in found["probe", "ok"]
        assert "19.4 last" in found["probe", "ok"]
        assert "left-odd was not heard" in found["probe", "mend"]
        assert "It says t2." in found["probe", "mend"]
    status, found = checks(site)
    assert status == 0
    assert "not there now" in found["source", "look"]


def test_a_watcher_that_lives_is_asked_and_its_port_left_alone(tmp_path: Path) -> None:
    site = Site(tmp_path)
    with Board(tmp_path / "port") as board:
        site.configure(vessel(), serial_source("board", board.link), probe("left-beer", "board", "t1"))
        with site.watched(), speaking(lambda: board.say("t1=19.4")):
            until(lambda: ("probe", "ok") in checks(site)[1], "the probe is heard", seen=site.log)
            status, found = checks(site)
            assert status == 0, found
            assert "watches" in found["watcher", "ok"]
            assert "sound" in found["database", "ok"]
            assert "board is connected" in found["source", "ok"]
        done = site.run("check")
        assert "look  watcher" in done.stdout
        assert "> Start it" in done.stdout


@pytest.mark.needs_broker
def test_a_broker_is_asked_without_taking_what_waits_for_the_watcher(tmp_path: Path) -> None:
    site = Site(tmp_path / "site")
    with Broker(tmp_path / "broker") as broker:
        site.configure(
            vessel(), mqtt_source("broker", broker.port, "cellar/{what}"), probe("left-beer", "broker", "temp")
        )
        with site.watched() as watching:
            watching.says("source broker is connected")
            broker.publish("cellar/temp", "19.4")
            until(lambda: len(site.readings("left-beer")) == 1, "the first is stored", seen=site.log)
        broker.publish("cellar/temp", "18.1")  # it waits for the watcher
        status, found = checks(site)
        assert status == 0
        assert f"broker answers: 127.0.0.1:{broker.port}" in found["source", "ok"]
        with speaking(lambda: broker.publish("cellar/temp", "17.0", qos=0)):
            status, found = checks(site, "--listen", "2s")
        assert "left-beer was heard" in found["probe", "ok"]
        with site.watched():
            until(
                lambda: 18.1 in [one.value for one in site.readings("left-beer")],
                "what waited is stored",
                seen=site.log,
            )
    status, found = checks(site)
    assert status == 1
    assert "No broker answers" in found["source", "mend"]


def test_a_controller_that_is_not_there_is_told(tmp_path: Path) -> None:
    site = Site(tmp_path)
    where = f'host = "127.0.0.1"\nport = {free_port()}\nmap = "worked-example"'
    site.configure(f'[[source]]\nname = "fridge"\ndriver = "modbus-tcp"\n{where}')
    status, found = checks(site)
    assert status == 1
    assert "fridge" in found["source", "mend"]
