"""One batch's data is poison: that batch is not judged, and says so; everything else is watched, from the start on."""

import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.support.running import Site, probe, serial_source, standing, until, vessel
from tests.support.stores import open_reader
from tests.support.terminal import Board

SOON = "[rules]\noutside_critical_min = 0.03"


def two_fermenters(site: Site, port: Path) -> None:
    site.configure(
        SOON,
        vessel(),
        vessel("right"),
        serial_source("board", port),
        probe("left-beer", "board", "l"),
        probe("right-beer", "board", "r", vessel="right"),
    )


def poison(site: Site, statement: str, *values: object) -> None:
    connection = sqlite3.connect(site.store / "home.db")
    with connection:
        connection.execute(statement, values)
    connection.close()


def poisoned_event(site: Site) -> None:
    poison(
        site,
        "INSERT INTO event (site, id, batch, at_ms, event) VALUES ('home', 'E-POISON', 'batch-left', 1, ?)",
        '{"grams": "150 g"}',
    )


def lane(status: Mapping[str, Any], slug: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(one for one in status["fermenters"] if one["fermenter"] == slug)
    return found


def test_a_row_that_cannot_be_read_stops_its_batch_alone_and_taking_it_back_mends_it(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    two_fermenters(site, port)
    with Board(port) as board:
        with site.watched() as watching:
            for one in ("left", "right"):
                site.open_batch(one)
            assert watching.stop() == 0
        poisoned_event(site)
        with site.watched() as watching:
            watching.says("is connected")
            site.until_status(lambda said: "not-judged" in standing(said), "it is told")
            alarm = next(one for one in site.status()["alarms"] if one["rule"] == "not-judged")
            assert alarm["subject"] == "batch:batch-left"
            assert alarm["statement"].startswith("not judged: ")
            assert "not judged" in site.run("status").stdout

            def right_is_watched() -> bool:
                board.say("r=33.0 l=33.0")
                return {"vessel:left", "vessel:right"} <= {
                    one["subject"] for one in site.status()["alarms"] if one["rule"] == "temperature-high"
                }

            until(right_is_watched, "the heat of both is told", seen=site.log)
            with open_reader(site.store, "home") as reader:
                held, judged = reader.judgement("batch-left"), reader.judgement("batch-right")
            assert held is not None
            assert held.verdict is not None
            assert held.verdict.kind == "hold"
            assert judged is not None
            assert watching.log().count("what people said of it failed, and all else goes on") == 1, watching.log()
            taken_back = site.run("note", "void", "E-POISON", "--reason", "mistyped", "--yes")
            assert taken_back.returncode == 0, taken_back.stderr
            site.until_status(lambda said: "not-judged" not in standing(said), "it is judged again")
            assert watching.stop() == 0


def test_rows_of_a_batch_and_of_an_alarm_that_cannot_be_read_do_not_keep_it_from_starting(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    two_fermenters(site, port)
    with Board(port) as board:
        with site.watched() as watching:
            for one in ("left", "right"):
                site.open_batch(one)
            assert watching.stop() == 0
        poison(site, "UPDATE batch SET batch = '{}' WHERE id = 'batch-left'")
        poison(site, "INSERT INTO alarm (site, rule, subject, alarm) VALUES ('home', 'hot', 'vessel:left', '[]')")
        with site.watched() as watching:
            watching.says("is connected")
            watching.says("not judged: ")
            watching.says("the alarm (without a name) cannot be read")
            board.say("", "r=19.5")
            until(lambda: [one.value for one in site.readings("right-beer")] == [19.5], "it watches", seen=site.log)
            assert watching.stop() == 0


def test_a_row_with_a_flipped_bit_is_a_row_that_cannot_be_read_and_no_end_of_watching(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    two_fermenters(site, port)
    with Board(port) as board:
        with site.watched() as watching:
            site.open_batch("left")
            assert watching.stop() == 0
        poison(site, "UPDATE batch SET batch = CAST(x'7bb1ff7d' AS TEXT) WHERE id = 'batch-left'")
        poison(site, "INSERT INTO alarm (site, rule, subject, alarm) VALUES ('home', 'x', 'y', CAST(x'b1ff' AS TEXT))")
        with site.watched() as watching:
            watching.says("not judged: ")
            board.say("", "r=19.5")
            until(lambda: [one.value for one in site.readings("right-beer")] == [19.5], "it watches", seen=site.log)
            told = site.run("status")
            assert "Traceback" not in told.stderr
            assert "Right" in told.stdout
            assert watching.stop() == 0
