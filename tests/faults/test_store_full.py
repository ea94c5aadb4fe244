"""A disk that is truly full, and what still goes: alarms and what people ask, with the room that was kept for them."""

import contextlib
import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import OutcomeState
from fermwatch.contracts.store import JournalEntry, WatcherStatus, Writer
from fermwatch.errors import StoreFull
from fermwatch.model.finding import Alarm, Condition
from tests.support.samples import NOW, PROBES, VESSELS, batch, opening, reading
from tests.support.stores import open_reader, open_writer, readings_kept

ALARM = Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW)
SMALL_DISK = "size=24m"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 24 MB of its own."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", SMALL_DISK, "none", str(disk)], check=False, capture_output=True
    )
    if mounted.returncode != 0:
        pytest.skip("this user may not mount a small disk; the limit of a file's size is tested instead")
    yield disk
    subprocess.run(["umount", "--lazy", str(disk)], check=True)


def fill(disk: Path) -> Path:
    """Take every block that is left."""
    filler = disk / "filler"
    descriptor = os.open(filler, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for size in (1 << 20, 4096, 1):
        try:
            while True:
                os.write(descriptor, b"x" * size)
        except OSError:
            continue
    os.close(descriptor)
    return filler


def append_until_full(writer: Writer) -> int:
    """How many readings were stored before the disk was full."""
    stored = 0
    try:
        while True:
            stored += writer.append([reading(stored + n) for n in range(500)]).stored
    except StoreFull:
        return stored


def test_on_a_full_disk_alarms_and_requests_are_kept_and_readings_wait_until_there_is_room(small_disk: Path) -> None:
    with open_writer(small_disk, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        (small_disk / "room").write_bytes(b"x" * (2 << 20))
        filler = fill(small_disk)
        (small_disk / "room").unlink()
        stored = append_until_full(writer)
        assert stored > 0
        assert "readings wait, alarms are still kept" in writer.trouble()
        for number in range(200):
            writer.save_alarms([ALARM], [JournalEntry(NOW, "alarm", "vessel:left", f"{number} " + "hot " * 100)])
        assert writer.apply(opening(batch()), NOW).state is OutcomeState.DONE
        assert "readings wait, alarms are still kept" in writer.trouble()
        with pytest.raises(StoreFull, match="Free some space"):
            writer.append([reading(stored)])
        with open_reader(small_disk, "home") as reader:
            assert reader.alarms() == (ALARM,)
            assert reader.batches() == (batch(),)
            assert len(reader.journal(limit=1000, kind="alarm")) == 200
            assert writer.latest()[1].at == reader.latest()[1].at
        filler.unlink()
        assert writer.append([reading(stored)]).stored == 1
        assert writer.trouble() == ""
        assert (small_disk / "home.ballast").stat().st_blocks * 512 >= 4 << 20
        assert readings_kept(small_disk) == stored + 1


def test_room_is_noticed_where_no_reading_comes_to_try_it(small_disk: Path) -> None:
    """With all its boards away a watcher said for ever that the disk was full."""
    with open_writer(small_disk / "store", "home", NOW) as writer:
        filler = fill(small_disk)
        status = WatcherStatus("0", 1, NOW, NOW, NOW)
        for _ in range(3):
            writer.beat(status)
        with contextlib.suppress(StoreFull):
            append_until_full(writer)
        assert "is full" in writer.trouble()
        filler.unlink()
        writer.beat(status)
        assert writer.trouble() == ""


def test_a_watcher_starts_on_a_full_disk_and_takes_readings_once_there_is_room(small_disk: Path) -> None:
    with open_writer(small_disk, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
    (small_disk / "home.ballast").unlink()
    (small_disk / "room").write_bytes(b"x" * (1 << 20))
    filler = fill(small_disk)
    (small_disk / "room").unlink()
    with open_writer(small_disk, "home", NOW) as writer:
        with pytest.raises(StoreFull):
            writer.append([reading(0)])
        writer.save_alarms([ALARM], [])
        filler.unlink()
        assert writer.append([reading(0)]).stored == 1


LIMITED = f"""
import resource, signal, sys
from pathlib import Path
from fermwatch.errors import StoreError
from tests.faults.test_store_full import ALARM, reading, open_writer, NOW, PROBES, VESSELS
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
writer = open_writer(Path(sys.argv[1]), "home", NOW)
writer.declare("UTC", VESSELS, PROBES, NOW)
resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, {resource.RLIM_INFINITY}))
stored = 0
try:
    while stored < 100_000:
        stored += writer.append([reading(stored + n) for n in range(500)]).stored
except StoreError as error:
    print(stored, str(error))
resource.setrlimit(resource.RLIMIT_FSIZE, ({resource.RLIM_INFINITY}, {resource.RLIM_INFINITY}))
print(writer.append([reading(stored)]).stored)
"""


def test_a_file_that_may_not_grow_loses_nothing_and_grows_again_later(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, "-c", LIMITED, str(tmp_path)], capture_output=True, text=True, check=True)
    refused, later = done.stdout.splitlines()
    stored = int(refused.split()[0])
    assert stored > 0
    assert later == "1"
    with open_writer(tmp_path, "home", NOW):
        assert readings_kept(tmp_path) == stored + 1
