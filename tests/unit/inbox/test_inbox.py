"""The inbox between who sends and who receives, whatever else lies in its directory."""

import errno
import json
import os
import stat
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.clock import ManualClock
from fermwatch.contracts.inbox import RequestKind
from fermwatch.errors import InputError, StoreError, StoreFull
from fermwatch.inbox import letters, sending
from fermwatch.inbox.receiving import FileInbox, open_inbox
from fermwatch.plain_data import from_plain, to_plain
from tests.support.samples import NOW, batch, opening, request
from tests.unit.inbox.laying import ME, good_letter, lay, mine, taken


def test_what_is_put_waits_in_order_until_it_is_dropped(inbox: FileInbox) -> None:
    first = opening(batch())
    second = request(RequestKind.END_BATCH, {"id": "BATCH1"}, expires_at=NOW + timedelta(seconds=60))
    inbox.put(first)
    inbox.put(second)
    assert [one.id for one in taken(inbox)] == [first.id, second.id]
    assert from_plain(type(batch()), taken(inbox)[0].payload) == batch()
    inbox.drop(mine(first).key)
    assert taken(inbox) == [mine(second)]
    inbox.drop("unknown")


def test_hundreds_of_one_process_keep_their_order(inbox: FileInbox) -> None:
    asked = [request(RequestKind.VOID, {"id": "M1"}) for _ in range(300)]
    for one in asked:
        inbox.put(one)
    assert [one.id for one in taken(inbox)] == [one.id for one in asked]


def test_each_site_has_its_own(inbox: FileInbox, tmp_path: Path) -> None:
    shed = open_inbox(tmp_path, "shed")
    sending.put(tmp_path, request(RequestKind.VOID, {"id": "M1"}, site="shed"))
    assert taken(inbox) == []
    assert len(taken(shed)) == 1


def test_who_asks_is_the_owner_and_not_who_is_claimed(inbox: FileInbox) -> None:
    inbox.put(request(RequestKind.VOID, {"id": "M1"}, user="somebody\nelse"))
    assert [one.user for one in taken(inbox)] == [ME]


def test_another_request_under_the_same_id_is_another_request(inbox: FileInbox, place: Path) -> None:
    good = request(RequestKind.VOID, {"id": "M1"})
    lay(place, json.dumps(good_letter(id=good.id, payload={"id": "M2"})).encode(), f"999999-{good.id}.json")
    os.utime(place / f"999999-{good.id}.json", (1, 1))
    inbox.put(good)
    first, second = taken(inbox)
    assert (first.id, second) == (good.id, mine(good))
    assert first.key != second.key != replace(second, user="eva").key
    inbox.drop(first.key)
    assert taken(inbox) == [mine(good)]


@pytest.mark.parametrize("umask", [0o000, 0o077])
def test_modes_let_the_group_write_whatever_the_umask(tmp_path: Path, umask: int) -> None:
    before = os.umask(umask)
    try:
        inbox = open_inbox(tmp_path, "home")
        inbox.put(opening(batch()))
    finally:
        os.umask(before)
    (file,) = (tmp_path / "home.inbox").iterdir()
    modes = [stat.S_IMODE(one.stat().st_mode) for one in (file.parent, tmp_path / "home.set-aside", file)]
    assert modes == [0o3770, 0o700, 0o640]


def test_where_there_is_none_the_remedy_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"There is no inbox at .* Start `fermwatch watch` once"):
        sending.put(tmp_path, opening(batch()))


def test_a_request_too_long_to_be_meant_is_refused_at_once(inbox: FileInbox) -> None:
    with pytest.raises(InputError, match="too long"):
        inbox.put(request(RequestKind.VOID, {"id": "x", "reason": "y" * letters.LARGEST}))
    assert taken(inbox) == []


def test_a_full_disk_is_told_and_leaves_nothing_half_written(
    inbox: FileInbox, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StoreFull, match="is full: nothing was kept"):
        inbox.put(opening(batch()))
    assert list(place.iterdir()) == []


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"{",
        b"[]",
        b"\xff\xfe",
        b"[" * 60_000,
        json.dumps(good_letter()).encode().replace(b'"M1"', b"[" * 400 + b"]" * 400),
        b'{"id": ' + b"9" * 60_000 + b"}",
        json.dumps(good_letter(kind="dance")).encode(),
        json.dumps(good_letter(payload=[])).encode(),
        json.dumps(good_letter(payload=None)).encode(),
        json.dumps(good_letter(id="")).encode(),
        json.dumps(good_letter(id="R2")).encode(),
        json.dumps(good_letter(version="two")).encode(),
        json.dumps(good_letter(created_at="noon")).encode(),
        json.dumps(good_letter(expires_at=9e15)).encode(),
        json.dumps(good_letter(user="eva")).encode(),
        json.dumps(good_letter(payload={"id": float("nan")})).encode(),
        b" " * letters.LARGEST + b"{}",
    ],
    ids=range(18),
)
def test_what_cannot_be_read_is_set_aside_once_and_the_rest_goes_on(
    inbox: FileInbox, place: Path, data: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    lay(place, data)
    good = opening(batch())
    inbox.put(good)
    assert taken(inbox) == [mine(good)]
    assert taken(inbox) == [mine(good)]
    (aside,) = (place.parent / "home.set-aside").iterdir()
    assert aside.read_bytes() == data
    assert caplog.text.count("the inbox held what is no request (000001-R1.json: ") == 1


def test_the_test_above_sees_what_is_good(inbox: FileInbox, place: Path) -> None:
    lay(place, json.dumps(good_letter()).encode())
    assert [one.id for one in taken(inbox)] == ["R1"]


def test_what_is_being_written_is_left_and_cleared_away_an_hour_later(tmp_path: Path) -> None:
    place = tmp_path / "home.inbox"
    open_inbox(tmp_path, "home")
    lay(place, b"{", ".000001-R1.json.77.part")
    written = (place / ".000001-R1.json.77.part").stat().st_mtime
    for later_s, left in ((60.0, 1), (7200.0, 0)):
        clock = ManualClock(NOW.fromtimestamp(written + later_s, NOW.tzinfo))
        inbox = FileInbox(tmp_path, "home", clock)
        assert taken(inbox) == []
        assert len(list(place.iterdir())) == left


@pytest.mark.parametrize("name", ["R1.json", "000001-R1.json\x1b[31m", "000001-..json", "\udcff", "a" * 255, "-rf"])
def test_no_other_name_is_read(inbox: FileInbox, place: Path, name: str, caplog: pytest.LogCaptureFixture) -> None:
    lay(place, json.dumps(good_letter()).encode(), name)
    assert taken(inbox) == []
    assert list(place.iterdir()) == []
    assert "\x1b" not in caplog.text


def test_links_pipes_sockets_and_directories_are_neither_followed_nor_waited_for(
    inbox: FileInbox, place: Path, tmp_path: Path
) -> None:
    secret = tmp_path / "secret"
    secret.write_bytes(json.dumps(good_letter()).encode())
    (place / "000001-R1.json").symlink_to(secret)
    os.mkfifo(place / "000002-R1.json")
    (place / "000003-R1.json").hardlink_to(secret)
    (place / "000004-R1.json").mkdir()
    (place / "000005-R1.json").symlink_to("/nowhere")
    assert taken(inbox) == []
    assert list(place.iterdir()) == []
    assert secret.read_bytes() == json.dumps(good_letter()).encode()


def test_what_was_not_taken_in_a_slice_is_taken_in_the_next(inbox: FileInbox) -> None:
    asked = [request(RequestKind.VOID, {"id": "M1"}) for _ in range(5)]
    for one in asked:
        inbox.put(one)
    found = []
    for _ in range(2):
        for waits in inbox.waiting():
            assert waits is not None
            found.append(waits.id)
            inbox.drop(waits.key)
            if len(found) == 2:
                break
        assert inbox.unfinished == (len(found) == 2)
    assert found == [one.id for one in asked]


def test_one_that_is_gone_is_made_again(inbox: FileInbox, place: Path) -> None:
    place.rmdir()
    assert taken(inbox) == []
    inbox.put(opening(batch()))
    assert len(taken(inbox)) == 1


@pytest.mark.parametrize("what", ["file", "link", "everybody"])
def test_a_broken_one_is_told_and_never_keeps_anybody_from_starting(tmp_path: Path, what: str) -> None:
    place = tmp_path / "home.inbox"
    if what == "file":
        place.write_bytes(b"")
    elif what == "link":
        (tmp_path / "elsewhere").mkdir()
        place.symlink_to(tmp_path / "elsewhere")
    else:
        place.mkdir()
        place.chmod(0o777)
    inbox = open_inbox(tmp_path, "home")
    for _ in range(2):
        with pytest.raises(StoreError, match=r"is no directory|Everybody on this machine may write .* chmod 3770"):
            taken(inbox)


def test_a_directory_in_which_members_could_remove_each_others_requests_is_mended(
    inbox: FileInbox, place: Path
) -> None:
    place.chmod(0o2770)
    taken(inbox)
    assert stat.S_IMODE(place.stat().st_mode) == 0o3770


def test_an_inbox_of_an_earlier_version_is_told_of(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    (tmp_path / "inbox").mkdir()
    (tmp_path / "inbox" / "inbox.db").write_bytes(b"whatever")
    open_inbox(tmp_path, "home")
    assert "inbox.db is of an earlier version, and not read: ask again" in caplog.text


def test_a_payload_of_dataclass_parts_is_kept_as_plain_data(inbox: FileInbox) -> None:
    inbox.put(request(RequestKind.OPEN_BATCH, {"pitched_at": NOW}))
    assert taken(inbox)[0].payload == to_plain({"pitched_at": NOW})
