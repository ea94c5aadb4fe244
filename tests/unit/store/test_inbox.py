import os
import sqlite3
import stat
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import Inbox, RequestKind
from fermwatch.errors import StoreError
from fermwatch.plain_data import from_plain, to_plain
from fermwatch.store.inbox import LARGEST_PAYLOAD, SqliteInbox, open_inbox
from tests.unit.store.samples import NOW, batch, opening, request
from tests.unit.store.somebody import somebody_who_may_not_write


@pytest.fixture
def inbox(directory: Path) -> Iterator[SqliteInbox]:
    opened = open_inbox(directory, create=True)
    yield opened
    opened.close()


def database(directory: Path) -> sqlite3.Connection:
    return sqlite3.connect(directory / "inbox" / "inbox.db", isolation_level=None)


def test_what_is_put_waits_in_order_until_it_is_dropped(inbox: SqliteInbox, directory: Path) -> None:
    promised: Inbox = inbox
    first = opening(batch())
    second = request(RequestKind.END_BATCH, {"id": "BATCH1"}, expires_at=NOW + timedelta(seconds=60))
    other = open_inbox(directory)
    other.put(first)
    other.put(second)
    other.close()
    assert promised.waiting() == (first, second)
    assert from_plain(type(batch()), promised.waiting()[0].payload) == batch()
    promised.drop(first.id)
    assert promised.waiting() == (second,)
    promised.drop("unknown")


def test_put_twice_is_kept_once(inbox: SqliteInbox) -> None:
    asked = opening(batch())
    inbox.put(asked)
    inbox.put(asked)
    assert inbox.waiting() == (asked,)


def test_nothing_but_the_one_file_remains_between_writes(inbox: SqliteInbox, directory: Path) -> None:
    inbox.put(opening(batch()))
    assert [file.name for file in (directory / "inbox").iterdir()] == ["inbox.db"]


@pytest.mark.parametrize("umask", [0o000, 0o077])
def test_modes_let_the_group_write_whatever_the_umask(directory: Path, umask: int) -> None:
    before = os.umask(umask)
    try:
        open_inbox(directory, create=True).close()
    finally:
        os.umask(before)
    modes = [stat.S_IMODE((directory / name).stat().st_mode) for name in ("", "inbox", "inbox/inbox.db")]
    assert modes == [0o2750, 0o2770, 0o660]


def test_where_there_is_none_the_remedy_is_named(directory: Path) -> None:
    with pytest.raises(StoreError, match=r"There is no inbox at .* Start `fermwatch watch` once"):
        open_inbox(directory)


def test_one_that_may_not_be_written_says_so(inbox: SqliteInbox, directory: Path) -> None:
    people = directory / "inbox"
    with (
        somebody_who_may_not_write(people, people / "inbox.db"),
        pytest.raises(StoreError, match=r"inbox\.db may not be written by this user\. Check who owns it"),
    ):
        open_inbox(directory).put(opening(batch()))


@pytest.mark.parametrize(
    "column",
    [
        "kind = 'dance'",
        "payload = '{'",
        "payload = '[]'",
        "payload = x'00ff'",
        "payload = NULL",
        "payload = hex(zeroblob(50000))",
        "id = ''",
        "id = hex(zeroblob(60))",
        "user = NULL",
        "version = 'two'",
        "created_at_ms = 'noon'",
        "created_at_ms = 9e15",
        "expires_at_ms = 9000000000000000000",
    ],
)
def test_what_cannot_be_read_is_set_aside_and_the_rest_goes_on(
    inbox: SqliteInbox, directory: Path, column: str
) -> None:
    bad, good = opening(batch("B1")), opening(batch("B2"))
    inbox.put(bad)
    inbox.put(good)
    with database(directory) as connection:
        connection.execute("PRAGMA writable_schema = ON")  # whoever may write the file may write anything
        connection.execute("UPDATE sqlite_schema SET sql = replace(sql, ' NOT NULL', '') WHERE name = 'request'")
    connection.close()
    with database(directory) as connection:
        connection.execute(f"UPDATE request SET {column} WHERE position = 1")  # noqa: S608
    connection.close()
    assert inbox.waiting() == (good,)
    assert inbox.waiting() == (good,)
    assert inbox.unreadable() == 1


def test_a_request_too_long_to_be_meant_is_refused_at_once(inbox: SqliteInbox) -> None:
    with pytest.raises(StoreError, match="too long"):
        inbox.put(request(RequestKind.VOID, {"id": "x", "reason": "y" * LARGEST_PAYLOAD}))
    assert inbox.waiting() == ()


def test_a_link_in_its_place_is_not_followed(directory: Path, tmp_path: Path) -> None:
    open_inbox(directory, create=True).close()
    file = directory / "inbox" / "inbox.db"
    file.rename(tmp_path / "elsewhere.db")
    file.symlink_to(tmp_path / "elsewhere.db")
    with pytest.raises(StoreError, match="is a link to another file"):
        open_inbox(directory, create=True)


@pytest.mark.parametrize("content", [b"not a database at all, but long enough to be looked at", b""])
def test_another_file_in_its_place_is_not_taken_for_one(directory: Path, content: bytes) -> None:
    (directory / "inbox").mkdir(parents=True)
    (directory / "inbox" / "inbox.db").write_bytes(content)
    with pytest.raises(StoreError, match="is not a"):
        open_inbox(directory, create=True)


def test_a_payload_of_dataclass_parts_is_kept_as_plain_data(inbox: SqliteInbox) -> None:
    inbox.put(request(RequestKind.OPEN_BATCH, {"pitched_at": NOW}))
    assert inbox.waiting()[0].payload == to_plain({"pitched_at": NOW})
