"""A backup is what the store was at one instant; restored, it is that again, and nothing is lost on the way."""

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.backup import Contents
from fermwatch.contracts.store import JournalEntry, Reader, Writer
from fermwatch.errors import InputError, LeaseTaken, StoreError, StoreMissing
from tests.conformance.stores import StoreBench
from tests.support.samples import NOW, PROBES, VESSELS, batch, opening, reading

LATER = NOW + timedelta(days=1)
RESTORED = JournalEntry(LATER, "store", "site:store", "restored from a test")


def no_line(reader: Reader) -> Sequence[JournalEntry]:
    return []


def a_line(reader: Reader) -> Sequence[JournalEntry]:
    return [RESTORED]


def fill(writer: Writer) -> None:
    writer.declare("Europe/Vienna", VESSELS, PROBES, NOW)
    writer.append([reading(minute, 20.0 + minute / 100) for minute in range(300)])
    writer.apply(opening(batch()), NOW)


@pytest.fixture
def backup(stores: StoreBench, tmp_path: Path) -> Path:
    """Of a store that holds something; nobody watches it any more."""
    with stores.store().writer(NOW) as writer:
        fill(writer)
        stores.store().back_up(tmp_path / "backup")
    return tmp_path / "backup"


def test_what_is_restored_elsewhere_is_what_was_backed_up(
    stores: StoreBench, undisturbed: StoreBench, backup: Path
) -> None:
    before = [line for line in stores.contents() if "sqlite_" not in line]
    restored = undisturbed.store().restore(backup, LATER, replace=False, entries=no_line)
    assert restored.kept_aside == ""
    assert restored.contents.readings == 300
    assert restored.contents.until == NOW + timedelta(minutes=299)
    assert [line for line in undisturbed.contents() if "sqlite_" not in line] == before
    with undisturbed.store().writer(LATER) as writer:
        assert writer.batches() == (batch(),)
        assert writer.append([reading(300)]).stored == 1


def test_it_is_of_one_instant_beside_a_writer_that_goes_on(stores: StoreBench, writer: Writer, tmp_path: Path) -> None:
    writer.append([reading(minute) for minute in range(10)])
    first = stores.store().back_up(tmp_path / "first")
    writer.append([reading(minute) for minute in range(10, 15)])
    second = stores.store().back_up(tmp_path / "second")
    assert (first.readings, second.readings) == (10, 15)
    assert sorted(one.name for one in tmp_path.iterdir() if one.is_file()) == ["first", "second"]


def test_the_journal_says_that_it_was_restored(stores: StoreBench, backup: Path) -> None:
    stores.store().restore(backup, LATER, replace=True, entries=a_line)
    with stores.store().reader() as reader:
        assert reader.journal(limit=1) == (RESTORED,)


def test_what_is_held_is_replaced_only_where_that_is_said_and_is_then_kept_aside(
    stores: StoreBench, backup: Path
) -> None:
    with stores.store().writer(LATER) as writer:
        writer.append([reading(500)])
    before = stores.contents()
    with pytest.raises(InputError, match=r"holds 301 readings, 1 batches.*--replace"):
        stores.store().restore(backup, LATER, replace=False, entries=no_line)
    assert stores.contents() == before
    restored = stores.store().restore(backup, LATER, replace=True, entries=no_line)
    assert restored.contents.readings == 300
    aside = Path(restored.kept_aside)
    assert aside.is_file()
    again = stores.store().restore(aside, LATER + timedelta(hours=1), replace=True, entries=no_line)
    assert again.contents.readings == 301
    assert stores.contents() == before


def test_where_nothing_is_held_it_need_not_be_said(undisturbed: StoreBench, backup: Path) -> None:
    with undisturbed.store().writer(NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
    restored = undisturbed.store().restore(backup, LATER, replace=False, entries=no_line)
    assert restored.contents.readings == 300


def test_nothing_is_restored_beneath_a_watcher(stores: StoreBench, backup: Path) -> None:
    with stores.store().writer(LATER) as writer:
        with pytest.raises(LeaseTaken, match="Stop the watcher, restore, and start it again"):
            stores.store().restore(backup, LATER, replace=True, entries=no_line)
        assert writer.append([reading(400)]).stored == 1


def test_a_backup_of_another_site_is_refused(stores: StoreBench, backup: Path) -> None:
    with pytest.raises(StoreError, match="is of the site home, not of shed"):
        stores.store("shed").restore(backup, LATER, replace=False, entries=no_line)
    with pytest.raises(StoreMissing):
        stores.store("shed").reader()


def test_nothing_is_written_over(stores: StoreBench, backup: Path) -> None:
    kept = backup.read_bytes()
    with pytest.raises(InputError, match="is there already"):
        stores.store().back_up(backup)
    assert backup.read_bytes() == kept


def test_what_cannot_be_read_is_refused_and_nothing_changes(stores: StoreBench, backup: Path, tmp_path: Path) -> None:
    before = stores.contents()
    whole = backup.read_bytes()
    broken = {
        "empty": b"",
        "text": b"not a store at all\n" * 100,
        "short": whole[: len(whole) // 2],
        "overwritten": whole[:8192] + b"\xa5" * 8192 + whole[16384:],
    }
    for name, content in broken.items():
        (tmp_path / name).write_bytes(content)
        with pytest.raises(StoreError) as told:
            stores.store().restore(tmp_path / name, LATER, replace=True, entries=no_line)
        assert str(tmp_path / name) in told.value.message, name
        assert told.value.hint, name
    for what in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(StoreError):
            stores.store().restore(what, LATER, replace=True, entries=no_line)
    assert stores.contents() == before


def test_an_empty_store_can_be_backed_up(stores: StoreBench, writer: Writer, tmp_path: Path) -> None:
    found = stores.store().back_up(tmp_path / "backup")
    assert found == Contents(found.schema, 0, 0, 0, 0, 0)
    assert not found.anything
