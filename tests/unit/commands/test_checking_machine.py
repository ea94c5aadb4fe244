"""What `fermwatch check` says of the machine: clock, disk and permissions, on machines that are not as this one."""

import os
import shutil
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.commands.checking import machine
from fermwatch.commands.checking.checked import CheckLine, Worth
from fermwatch.config.load import Loaded
from tests.unit.config.files import WHOLE, loaded

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
OK, LOOK, MEND = Worth.OK, Worth.LOOK, Worth.MEND


def worths(found: Iterable[CheckLine]) -> list[tuple[str, Worth]]:
    listed = list(found)
    assert all(one.text.endswith(".") for one in listed)
    return [(one.what, one.worth) for one in listed]


@pytest.fixture
def made(tmp_path: Path) -> Loaded:
    return replace(loaded(tmp_path, WHOLE), store=tmp_path / "store")


@pytest.mark.parametrize(("kept", "worth"), [(True, OK), (False, LOOK), (None, LOOK)])
def test_the_clock_is_kept_right_or_not(
    made: Loaded, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kept: bool | None, worth: Worth
) -> None:
    monkeypatch.setattr(machine, "is_synchronised", lambda: kept)
    assert worths(machine.clock(made, NOW, tmp_path)) == [("clock", worth), ("timezone", OK)]


def test_a_clock_that_was_never_set_is_to_be_mended(made: Loaded, tmp_path: Path) -> None:
    assert worths(machine.clock(made, datetime(1970, 1, 2, tzinfo=UTC), tmp_path))[0] == ("clock", MEND)


def test_a_site_in_utc_on_a_machine_that_is_elsewhere_is_told(made: Loaded, tmp_path: Path) -> None:
    (tmp_path / "etc").mkdir()
    (tmp_path / "etc/localtime").symlink_to("/usr/share/zoneinfo/Europe/Vienna")
    found = list(machine.clock(made, NOW, tmp_path))[-1]
    assert found.worth is LOOK
    assert 'timezone = "Europe/Vienna"' in found.remedy


def test_the_kernel_tells_whether_its_clock_is_kept() -> None:
    assert machine.is_synchronised() in {True, False, None}


@pytest.mark.parametrize(
    ("free", "kind", "device", "expected"),
    [
        (5 * 1024**3, "ext4", "sda1", [OK]),
        (500 * 1024**2, "ext4", "sda1", [LOOK]),
        (5 * 1024**2, "ext4", "sda1", [MEND]),
        (5 * 1024**3, "tmpfs", "sda1", [OK, MEND]),
        (5 * 1024**3, "ext4", "mmcblk0p2", [OK, LOOK]),
    ],
)
def test_the_disk_has_room_and_lasts(
    made: Loaded,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    free: int,
    kind: str,
    device: str,
    expected: list[Worth],
) -> None:
    number = tmp_path.stat().st_dev
    blocks = tmp_path / "sys/dev/block"
    blocks.mkdir(parents=True)
    (blocks / f"{os.major(number)}:{os.minor(number)}").symlink_to(f"../../devices/host/block/{device}")
    (tmp_path / "proc").mkdir()
    (tmp_path / "proc/mounts").write_text(f"x / overlay rw 0 0\nx {tmp_path.resolve()} {kind} rw 0 0\n")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: type("Usage", (), {"free": free}))
    assert [worth for _, worth in worths(machine.disk(made, tmp_path))] == expected


def test_a_card_that_is_spared_is_not_complained_of(made: Loaded, tmp_path: Path) -> None:
    store = made.config.store.model_copy(update={"commit_every_s": 30.0})
    spared = replace(made, config=made.config.model_copy(update={"store": store}))
    number = tmp_path.stat().st_dev
    blocks = tmp_path / "sys/dev/block"
    blocks.mkdir(parents=True)
    (blocks / f"{os.major(number)}:{os.minor(number)}").symlink_to("../../mmcblk0p2")
    assert ("disk", LOOK) not in worths(machine.disk(spared, tmp_path))


def test_a_store_that_is_not_there_yet_is_no_mistake(made: Loaded) -> None:
    assert worths(machine.permissions(made)) == [("store", LOOK)]


def test_who_has_an_inbox_may_ask(made: Loaded) -> None:
    (made.store / "home.inbox").mkdir(parents=True)
    assert worths(machine.permissions(made)) == [("inbox", OK)]
