"""What a look through the whole file finds, and what it cannot."""

import os
from pathlib import Path

import pytest

from fermwatch.errors import StoreDamaged
from fermwatch.store.sqlite.soundness import check_sound
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_writer


@pytest.fixture
def file(tmp_path: Path) -> Path:
    with open_writer(tmp_path, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(number) for number in range(5000)])
    return tmp_path / "home.db"


def never() -> bool:
    return False


def test_a_store_as_it_was_written_is_sound(file: Path) -> None:
    check_sound(file, never)


@pytest.mark.parametrize("page", [1, 2, 8, -2])
def test_any_page_that_was_wiped_is_found(file: Path, page: int) -> None:
    with file.open("r+b") as opened:
        size = int.from_bytes(opened.read(18)[16:18], "big")  # sqlite.org/fileformat.html, section 1.3.2
        pages = file.stat().st_size // size
        opened.seek((page if page > 0 else pages + page) * size)
        opened.write(bytes(size))
    with pytest.raises(StoreDamaged, match=r"home\.db is damaged") as told:
        check_sound(file, never)
    assert "put a backup in its place" in told.value.hint


def test_who_gives_up_is_let_go_at_once(file: Path) -> None:
    asked = []

    def given_up() -> bool:
        asked.append(True)
        return True

    check_sound(file, given_up)
    assert len(asked) == 1


def test_whoever_writes_into_the_file_is_noticed_once(tmp_path: Path) -> None:
    file = tmp_path / "home.db"
    with open_writer(tmp_path, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(0)])
        assert not writer.was_written()  # it waits in the log beside
        before = file.stat()
        os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns + 1_000_000))
        assert writer.was_written()
        assert not writer.was_written()


def test_a_look_through_it_writes_nothing(tmp_path: Path) -> None:
    with open_writer(tmp_path, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        writer.append([reading(0)])
        check_sound(tmp_path / "home.db", never)
        assert not writer.was_written()
