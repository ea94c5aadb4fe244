"""What is said of a batch is typed at every door: a batch's file, the inbox, and rows of an earlier version."""

import json
import sqlite3
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import Outcome, RequestKind
from fermwatch.rules.unjudged import NOT_JUDGED
from tests.support.running import Site, probe, serial_source, standing, until, vessel
from tests.support.stores import open_reader
from tests.support.terminal import Board

LOG = "time,probe,quantity,value\n2026-03-01T18:05:00Z,T1,temperature_C,19.4\n"
BATCH = """\
name = "Amber"
og_sg = 1.050
pitched_at = 2026-03-01T18:00:00Z
volume_l = 20.0
yeast = "clean-ale"

[[event]]
at = 2026-03-02T10:00:00Z
kind = "note"

[[event]]
at = 2026-03-09T10:00:00Z
"""


@pytest.fixture
def site(tmp_path: Path) -> Site:
    made = Site(tmp_path)
    made.configure(vessel(), serial_source("board", tmp_path / "board"), probe("left-beer", "board", "t1"))
    return made


@pytest.mark.parametrize(
    ("said", "place", "complaint"),
    [
        ('kind = "sugar"\ngrams = "150 g"', "14: event[2].grams", "expected a number, got '150 g'"),
        ('kind = "sugar"\ngrams = nan', "14: event[2].grams", "expected a finite number, got nan"),
        ('kind = "dry-hop"\ngrams = true', "14: event[2].grams", "expected a number, got True"),
        ('kind = "dry-hop"\ngrams = -5', "14: event[2].grams", "-5 is outside 0 to 100000"),
        ('kind = "fruit"\ngramms = 150', "14: event[2].gramms", "there is no such key"),
        ('kind = "forced-ferment"\ngravity_sg = 1012', "14: event[2].gravity_sg", "1012 is outside 0.97 to 1.2"),
        ('kind = "diacetyl-test"\npassed = "yes"', "14: event[2].passed", "expected true or false, got 'yes'"),
        (
            'kind = "rest"\ntarget_c = 16\nuntil = 2026-03-12T10:00:00',
            "15: event[2].until",
            "expected an instant with its",
        ),
        ('kind = "diacetyl-test"', "11: event[2].passed", "is missing"),
    ],
)
def test_a_batch_file_is_refused_with_line_and_key(
    site: Site, tmp_path: Path, said: str, place: str, complaint: str
) -> None:
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    log.write_text(LOG)
    batch.write_text(f"{BATCH}{said}\n")
    for command in (("replay", str(log)), ("import", str(log), "--vessel", "left")):
        done = site.run(*command, "--batch", str(batch))
        assert done.returncode == 78, done.stderr
        assert f"{batch}:{place}: {complaint}" in done.stderr
        assert "Traceback" not in done.stderr


def test_untyped_data_is_refused_by_the_watcher_that_goes_on(site: Site, tmp_path: Path) -> None:
    with Board(tmp_path / "board"), site.watched() as watching:
        identity = site.open_batch("left")
        at = datetime.now(UTC).isoformat()
        happened = {"id": "E1", "at": at, "kind": "sugar", "data": {"grams": "150 g"}}
        measured = {"id": "M1", "at": at, "gravity_sg": 1.020, "sd_points": 0.0}
        asked = {
            "event.data.grams": site.ask(RequestKind.EVENT, {"batch": identity, "event": happened}),
            "sd_points": site.ask(RequestKind.MEASURE, {"batch": identity, "measurement": measured}),
        }
        for key, request in asked.items():
            outcome = until(partial(_outcome, site, request), f"an answer about {key}", seen=watching.log)
            assert outcome is not None
            assert outcome.state == "refused"
            assert key.rpartition(".")[2] in outcome.reason
        assert watching.process.poll() is None


def _outcome(site: Site, request: str) -> Outcome | None:
    with open_reader(site.store, "home") as reader:
        return reader.outcome(request)


def _heard(site: Site, board: Board) -> bool:
    board.say("t1=19.4")
    return bool(site.readings("left-beer"))


def test_rows_of_an_earlier_version_are_told_and_stop_nobody(site: Site, tmp_path: Path) -> None:
    with Board(tmp_path / "board") as board:
        with site.watched() as watching:
            identity = site.open_batch("left")
            watching.stop()
        at = datetime.now(UTC) - timedelta(hours=30)
        rows: dict[str, dict[str, Any]] = {
            "SUGAR1": {"kind": "sugar", "data": {"grams": "150 g", "name": "honey"}},
            "FORCED1": {"kind": "forced-ferment", "data": {}},
            "PRAYER1": {"kind": "prayer", "data": {}},
        }
        gravities = {"M1": 1.030, "M2": 1.030, "M3": 1e300}
        with sqlite3.connect(site.store / "home.db") as store:
            for name, row in rows.items():
                text = json.dumps({"id": name, "at": at.isoformat(), **row})
                store.execute("INSERT INTO event VALUES ('home', ?, ?, ?, 0, '', ?)", (name, identity, to_ms(at), text))
            for name, gravity_sg in gravities.items():
                said = {"id": name, "at": at.isoformat(), "gravity_sg": gravity_sg, "sd_points": 0.0}
                keys = (name, identity, to_ms(at), json.dumps(said))
                store.execute("INSERT INTO measurement VALUES ('home', ?, ?, ?, 0, '', ?)", keys)
        store.close()
        with site.watched() as watching:
            until(partial(_heard, site, board), "a reading is stored", seen=watching.log)
            watching.says("What was said as")
            site.until_status(lambda status: NOT_JUDGED in standing(status), "it is said that the batch is not judged")
            assert "Void it (`fermwatch note void FORCED1`)" in site.run("bottle", "left").stderr
            listed = site.run("note", "list", "left")
            assert listed.returncode == 0
            assert "SUGAR1: grams: expected a number, got '150 g'" in " ".join(listed.stdout.split())
            assert "PRAYER1: kind: expected one of" in " ".join(listed.stdout.split())
            for name in ("SUGAR1", "FORCED1", "PRAYER1", "M3"):
                voided = site.run("note", "void", name, "--yes")
                assert voided.returncode == 0, voided.stderr
            site.until_status(lambda status: NOT_JUDGED not in standing(status), "the batch is judged again")
            assert watching.process.poll() is None
    assert site.run("bottle", "left").returncode == 1
