"""A disk without room: said once, in the log and in the status; nothing accepted is lost; it goes on by itself."""

import resource
import subprocess
from pathlib import Path

import pytest

from tests.faults.test_store_full import fill
from tests.support.running import Site, Watching, probe, serial_source, until, vessel
from tests.support.terminal import Board

NO_LIMIT = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)


def numbered(site: Site, port: Path) -> None:
    site.configure(vessel(), serial_source("board", port, 'sequence_field = "n"'), probe("left-beer", "board", "t"))


def say(board: Board, first: int, last: int) -> None:
    board.say("", *(f"n={n} t={18 + n / 1000:.3f}" for n in range(first, last)))


def stored(site: Site) -> list[int | None]:
    return [reading.sequence for reading in site.readings("left-beer")]


def told_once(watching: Watching) -> None:
    assert watching.log().count("ERROR nothing can be stored") == 1, watching.log()
    assert watching.log().count("the store takes readings again") == 1, watching.log()
    assert "Traceback" not in watching.log()


def test_files_that_may_not_grow_cost_no_accepted_reading(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    numbered(site, port)
    with Board(port) as board, site.watched() as watching:
        watching.says("is connected")
        say(board, 0, 50)
        until(lambda: len(stored(site)) == 50, "the first are stored", seen=site.log)
        log = (site.store / "home.db-wal").stat().st_size
        resource.prlimit(watching.process.pid, resource.RLIMIT_FSIZE, (log, resource.RLIM_INFINITY))
        say(board, 50, 100)
        watching.says("ERROR nothing can be stored")
        say(board, 100, 150)
        assert site.status()["fermenters"]
        assert stored(site) == list(range(50))  # what is stored can be read all the while
        resource.prlimit(watching.process.pid, resource.RLIMIT_FSIZE, NO_LIMIT)
        until(lambda: len(stored(site)) >= 150, "it goes on by itself", seen=site.log)
        assert watching.stop() == 0
        told_once(watching)
    assert stored(site) == list(range(150))


def test_a_full_disk_is_told_in_the_status_with_its_remedy(tmp_path: Path) -> None:
    site, port = Site(tmp_path / "site"), tmp_path / "port"
    numbered(site, port)
    site.store.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=24m", "none", str(site.store)]
    if subprocess.run(mount, check=False, capture_output=True).returncode != 0:
        pytest.skip("this user may not mount a small disk; the limit of a file's size is tested instead")
    try:
        with Board(port) as board, site.watched() as watching:
            watching.says("is connected")
            say(board, 0, 50)
            until(lambda: len(stored(site)) == 50, "the first are stored", seen=site.log)
            filler = fill(site.store)
            say(board, 50, 100)
            watching.says("ERROR nothing can be stored")
            full = site.until_status(lambda said: said["watcher"]["trouble"], "the trouble is shown")
            assert "full" in full["watcher"]["trouble"]
            assert "Free some space" in full["watcher"]["trouble"]
            assert (full["headline"]["level"], full["headline"]["matter"]) == ("critical", "store")
            assert site.run("status").stdout.startswith("home: The store is in trouble: ")
            say(board, 100, 150)
            filler.unlink()
            until(lambda: len(stored(site)) >= 150, "it goes on by itself", seen=site.log)
            site.until_status(lambda said: not said["watcher"]["trouble"], "the trouble is over")
            assert watching.stop() == 0
            told_once(watching)
        assert stored(site) == list(range(150))
    finally:
        subprocess.run(["umount", "--lazy", str(site.store)], check=True)
