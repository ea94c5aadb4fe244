"""What a member of the group lays into the inbox in masses, or where nothing can be moved: others go on."""

import errno
import json
import os
import stat
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from fermwatch.clock import ManualClock
from fermwatch.contracts.inbox import RequestKind
from fermwatch.inbox import receiving
from fermwatch.inbox.receiving import FileInbox
from tests.support.samples import NOW, batch, opening, request
from tests.unit.inbox.laying import good_letter, lay, mine, taken


def test_a_flood_costs_a_bounded_amount_a_turn_and_hides_no_request(
    inbox: FileInbox, place: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked = 0
    read = receiving._read

    def counted(directory: int, name: str) -> tuple[bytes, int]:
        nonlocal looked
        looked += 1
        return read(directory, name)

    monkeypatch.setattr(receiving, "_read", counted)
    for number in range(3000):
        lay(place, b"x", f"{number:06d}-R1.json")
    good = opening(batch())
    inbox.put(good)
    found, turns, most = [], 0, 0
    while turns == 0 or inbox.unfinished:
        looked = 0
        found += [one for one in inbox.waiting() if one is not None]
        turns, most = turns + 1, max(most, looked)
    assert found == [mine(good)]
    assert most <= receiving.LOOK
    assert len(list((place.parent / "home.set-aside").iterdir())) == receiving.KEPT_ASIDE
    assert len([one for one in caplog.records if "no request" in one.message]) <= turns


def trap(place: Path, name: str = "trap") -> Path:
    """What can be neither read nor moved, while it is not empty and its directory may not be written."""
    made = place / name
    made.mkdir()
    (made / "x").write_bytes(b"")
    return made


@pytest.fixture
def immovable(monkeypatch: pytest.MonkeyPatch) -> None:
    """Directories cannot be moved, as those of another user cannot."""
    rename = os.rename

    def refuse(name: str, *rest: Any, **more: Any) -> None:  # noqa: ANN401
        if stat.S_ISDIR(os.stat(name, dir_fd=more["src_dir_fd"]).st_mode):
            raise PermissionError(errno.EACCES, "Permission denied")
        rename(name, *rest, **more)

    monkeypatch.setattr(os, "rename", refuse)


def with_inode(seen: os.stat_result, inode: int) -> Any:  # noqa: ANN401
    """The same entry of a directory, under another inode."""
    return SimpleNamespace(st_dev=seen.st_dev, st_ino=inode, st_ctime_ns=seen.st_ctime_ns, st_mode=seen.st_mode)


@pytest.mark.usefixtures("immovable")
def test_what_was_stuck_swallows_nothing_once_it_is_gone(
    inbox: FileInbox, place: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """File systems give the inode of what was removed to the next file: here all of them to all."""
    known_by = receiving._thing
    monkeypatch.setattr(receiving, "_thing", lambda name, seen: known_by(name, with_inode(seen, 1)))
    made = trap(place)
    assert taken(inbox) == []
    assert taken(inbox) == []
    assert caplog.text.count("remove it by hand") == 1
    (made / "x").unlink()
    made.rmdir()
    asked = [request(RequestKind.VOID, {"id": "M1"}) for _ in range(50)]
    for one in asked:
        inbox.put(one)
    assert {one.id for one in taken(inbox)} == {one.id for one in asked}


@pytest.mark.usefixtures("immovable")
def test_a_flood_of_what_cannot_be_moved_is_told_once_and_then_rested_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(receiving, "MOST_STUCK", 1000)
    clock = ManualClock(NOW)
    inbox = FileInbox(tmp_path, "home", clock)
    inbox.prepare()
    place = tmp_path / "home.inbox"
    for number in range(1200):
        trap(place, f"d{number}")
    for _ in range(20):
        clock.advance(61.0)
        taken(inbox)
    assert caplog.text.count("no request") <= 2
    looks = 0
    look = FileInbox._look

    def counted(self: FileInbox, round_: Any) -> None:  # noqa: ANN401
        nonlocal looks
        looks += 1
        clock.advance(0.1)  # what it took
        look(self, round_)

    monkeypatch.setattr(FileInbox, "_look", counted)
    for _ in range(400):  # half a second apart
        clock.advance(0.5)
        taken(inbox)
    assert looks < 0.1 * 400 * 0.5 / 0.1 + 10, "a tenth of the time at the most"
    good = request(RequestKind.VOID, {"id": "M1"})
    inbox.put(good)
    clock.advance(receiving.LONGEST_REST_S)
    assert taken(inbox) == [mine(good)]


@pytest.mark.usefixtures("immovable")
def test_nobody_waits_long_for_a_round_that_took_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = ManualClock(NOW)
    inbox = FileInbox(tmp_path, "home", clock)
    inbox.prepare()
    for number in range(600):
        trap(tmp_path / "home.inbox", f"d{number}")
    look = FileInbox._look

    def slow(self: FileInbox, round_: Any) -> None:  # noqa: ANN401
        clock.advance(30.0)
        look(self, round_)

    monkeypatch.setattr(FileInbox, "_look", slow)
    assert taken(inbox) == []
    good = request(RequestKind.VOID, {"id": "M1"})
    inbox.put(good)
    clock.advance(10.0)
    assert taken(inbox) == [mine(good)]


def test_parts_of_a_time_to_come_are_removed(inbox: FileInbox, place: Path) -> None:
    lay(place, b"", ".R1.part")
    os.utime(place / ".R1.part", (4e9, 4e9))
    assert taken(inbox) == []
    assert list(place.iterdir()) == []


@pytest.mark.skipif(os.geteuid() != 0, reason="needs root, to give files to others")
def test_a_flood_of_one_person_is_no_queue_for_another(
    inbox: FileInbox, place: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """However many requests somebody has waiting, another's comes within the next few hundred."""
    for number in range(2500):
        lay(place, json.dumps(good_letter(id=f"F{number}")).encode(), f"000001-F{number}.json")
        os.chown(place / f"000001-F{number}.json", 61_003, -1)
        os.utime(place / f"000001-F{number}.json", (1, 1))
    good = request(RequestKind.VOID, {"id": "M1"})
    inbox.put(good)
    before = 0
    for one in iter(lambda: taken(inbox), []):
        for asked in one:
            inbox.drop(asked.key)
        if mine(good) in one:
            before += one.index(mine(good))
            break
        before += len(one)
    assert before <= 2 * receiving.MOST_OF_ONE
    assert caplog.text.count("uid 61003 has") == 1
    left = len(list(place.iterdir()))
    while batch_of := taken(inbox):
        for asked in batch_of:
            inbox.drop(asked.key)
        left -= len(batch_of)
    assert left == 0, "and all are taken in the end"
