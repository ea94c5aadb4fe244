"""Whether somebody holds a lease, by the kernel's own list."""

import os
from pathlib import Path

import pytest

from fermwatch.store.sqlite.lease import Lease, is_held

OTHERS = "1: POSIX  ADVISORY  WRITE 411 {place} 0 EOF\n2: FLOCK  ADVISORY  WRITE 412 fd:01:99 0 EOF\n"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    file = tmp_path / "home.lease"
    file.touch()
    return file


def listed(tmp_path: Path, device: str, inode: int, kind: str = "FLOCK") -> Path:
    locks = tmp_path / "locks"
    place = f"{device}:{inode}"
    locks.write_text(f"{OTHERS.format(place=place)}3: {kind}  ADVISORY  WRITE 413 {place} 0 EOF\n3: -> {kind} x\n")
    return locks


def on_device(monkeypatch: pytest.MonkeyPatch, major: int, minor: int) -> None:
    monkeypatch.setattr(os, "major", lambda _device: major)
    monkeypatch.setattr(os, "minor", lambda _device: minor)


def test_it_is_found_by_its_device_and_number(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inode = file.stat().st_ino
    on_device(monkeypatch, 0xFE, 1)
    assert is_held(file, listed(tmp_path, "fe:01", inode))
    assert not is_held(file, listed(tmp_path, "fe:02", inode))
    assert not is_held(file, listed(tmp_path, "fe:01", inode + 1))
    assert not is_held(file, listed(tmp_path, "fe:01", inode, "POSIX"))


def test_where_the_device_is_made_up_the_number_is_enough(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As proc(5) lists the device of the whole, and stat(2) that of a part."""
    inode = file.stat().st_ino
    on_device(monkeypatch, 0, 0x2D)
    assert is_held(file, listed(tmp_path, "00:1f", inode))
    assert not is_held(file, listed(tmp_path, "00:1f", int(f"1{inode}")))


def test_without_a_list_nobody_is_known_to_hold_it(file: Path, tmp_path: Path) -> None:
    assert not is_held(file, tmp_path / "none")


def test_a_lease_that_was_let_go_is_held_by_nobody(tmp_path: Path) -> None:
    file = tmp_path / "home.lease"
    held = Lease(file, "home")
    assert file.read_text() == f"{os.getpid()}\n"
    held.release()
    assert not is_held(file)
