"""A backup or a restore that is broken off anywhere, by kill -9 or a full disk, leaves what was there whole."""

import random
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from fermwatch.contracts.store import JournalEntry, Reader
from fermwatch.errors import StoreFull
from tests.faults.test_store_full import fill, small_disk
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_writer, readings_kept, store_in

KILLS = 12
disk = small_disk
READINGS = 60_000


def no_line(reader: Reader) -> Sequence[JournalEntry]:
    return []


def filled(directory: Path, count: int) -> None:
    with open_writer(directory, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(number / 10) for number in range(count)])


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    directory = tmp_path_factory.mktemp("store")
    filled(directory, READINGS)
    return directory


BACK_UP = """
import sys
from pathlib import Path
from tests.support.stores import store_in
store = store_in(Path(sys.argv[1]))
print("go", flush=True)
store.back_up(Path(sys.argv[2]))
print("done", flush=True)
"""
RESTORE = """
import sys
from pathlib import Path
from tests.support.samples import NOW
from tests.support.stores import store_in
store = store_in(Path(sys.argv[1]))
print("go", flush=True)
store.restore(Path(sys.argv[2]), NOW, replace=True, entries=lambda reader: [])
print("done", flush=True)
"""


def killed(program: str, after_s: float, *words: str) -> bool:
    """Whether it had said that it was done."""
    process = subprocess.Popen([sys.executable, "-c", program, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stdout.readline() == b"go\n"
    time.sleep(after_s)
    process.kill()
    said, complaint = process.communicate(timeout=60)
    assert complaint == b""
    return said == b"done\n"


def delays(whole_s: float) -> Iterator[float]:
    chance = random.Random(7)
    return (chance.uniform(0.0, whole_s) for _ in range(KILLS))


def test_a_backup_that_is_killed_is_none(store: Path, tmp_path: Path) -> None:
    began = time.monotonic()
    store_in(store).back_up(tmp_path / "whole.db")
    for number, after_s in enumerate(delays(1.2 * (time.monotonic() - began))):
        target = tmp_path / f"{number}.db"
        done = killed(BACK_UP, after_s, str(store), str(target))
        assert target.exists() or not done
        if target.exists():
            restored = store_in(tmp_path / f"from-{number}").restore(target, NOW, replace=False, entries=no_line)
            assert restored.contents.readings == READINGS
    assert readings_kept(store) == READINGS


def test_a_restore_that_is_killed_leaves_the_old_store_or_the_new_one(store: Path, tmp_path: Path) -> None:
    backup = tmp_path / "backup.db"
    store_in(store).back_up(backup)
    for number, after_s in enumerate(delays(0.4)):
        site = tmp_path / f"site-{number}"
        filled(site, 10)
        done = killed(RESTORE, after_s, str(site), str(backup))
        kept = readings_kept(site)
        assert kept in {10, READINGS}
        assert kept == READINGS or not done
        open_writer(site, "home", NOW, ballast_bytes=4096).close()


def test_without_room_neither_leaves_anything_behind(disk: Path, tmp_path: Path) -> None:
    filled(tmp_path / "site", READINGS)
    filled(disk / "site", 10)
    store_in(tmp_path / "site").back_up(tmp_path / "backup.db")
    filler = fill(disk)
    before = sorted(disk.rglob("*"))
    with pytest.raises(StoreFull, match="nothing was kept"):
        store_in(tmp_path / "site").back_up(disk / "backup.db")
    with pytest.raises(StoreFull, match="nothing was changed"):
        store_in(disk / "site").restore(tmp_path / "backup.db", NOW, replace=True, entries=no_line)
    assert sorted(disk.rglob("*")) == before
    filler.unlink()
    assert readings_kept(disk / "site") == 10
