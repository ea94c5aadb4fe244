"""The inbox and the store between real users: the service, members of its group, and somebody outside."""

import json
import os
import signal
import stat
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import RequestKind
from tests.support.people import (
    GROUP,
    MEMBER,
    OTHER_MEMBER,
    OUTSIDER,
    SERVICE,
    Person,
    directory_of_all,
    root_is_needed,
)
from tests.support.running import Site, Watching, probe, serial_source, until, value_of, vessel
from tests.support.stores import open_reader
from tests.support.terminal import Board, Terminal

pytestmark = root_is_needed()


@pytest.fixture
def site() -> Iterator[Site]:
    """Watched by the service; members of its group may read the store and ask."""
    with directory_of_all() as directory:
        made = Site(directory / "site", run_by=SERVICE.words, environment={"HOME": str(directory)})
        made.configure(vessel(), serial_source("board", directory / "board"), probe("left-beer", "board", "t1"))
        made.directory.chmod(0o755)
        made.store.mkdir()
        os.chown(made.store, SERVICE.uid, GROUP)
        made.store.chmod(0o2750)
        yield made


@contextmanager
def board_of(site: Site) -> Iterator[Board]:
    """One whose port the service may open."""
    with Board(site.directory.parent / "board") as board:
        board.link.resolve().chmod(0o666)
        yield board


def place(site: Site) -> Path:
    return site.store / "home.inbox"


def says(site: Site, person: Person, *words: str) -> tuple[int, str, str]:
    done = person.runs(*site.command(*words), **site.environment)
    assert "Traceback" not in done.stderr
    return done.returncode, " ".join(done.stdout.split()), " ".join(done.stderr.split())


def journal(site: Site) -> list[str]:
    with open_reader(site.store, "home") as reader:
        return [entry.text for entry in reader.journal(kind="request", limit=500)]


def until_left_alone(site: Site, watching: Watching) -> None:
    until(lambda: not list(place(site).iterdir()), "the inbox is empty", seen=watching.log)


def a_letter(identity: str, **payload: str) -> str:
    said = {"id": identity, "site": "home", "kind": "end-batch", "payload": payload}
    return json.dumps({**said, "created_at": datetime.now(UTC).isoformat()})


def test_a_member_asks_and_is_known_by_the_file_and_not_by_what_is_claimed(site: Site) -> None:
    with site.watched():
        site.open_batch("left")
        status, out, err = says(site, MEMBER, "note", "left", "remark", "lid opened", "--yes")
        assert status == 0, err
        assert "Stored for Invented ale" in out
        assert f"uid {MEMBER.uid} noted note for Invented ale." in journal(site)
        modes = [stat.S_IMODE(one.stat().st_mode) for one in (place(site), site.store / "home.set-aside")]
        assert modes == [0o3770, 0o700]


def test_whatever_a_member_lays_there_the_watcher_goes_on_and_follows_nothing(site: Site) -> None:
    with board_of(site) as board, site.watched() as watching:
        site.open_batch("left")
        inbox = place(site)
        secret = site.directory.parent / "secret"
        secret.write_text(a_letter("R9", id="batch-left"))
        MEMBER.python(
            "import os, pathlib\n"
            f"inbox = pathlib.Path({str(inbox)!r})\n"
            "os.umask(0)\n"
            "(inbox / '000001-R1.json').symlink_to('/etc/shadow')\n"
            f"(inbox / '000001-R9.json').symlink_to({str(secret)!r})\n"
            "os.mkfifo(inbox / '000002-R2.json')\n"
            "(inbox / '000003-R3.json').write_bytes(b'{')\n"
            "(inbox / '000004-R4.json').write_bytes(b'')\n"
            "with open(inbox / '000005-R5.json', 'wb') as file: file.truncate(400 << 20)\n"
            "(inbox / '000006-R6.json').mkdir()\n"
            "(inbox / '000007-R7.json').mkdir(); (inbox / '000007-R7.json' / 'more').write_bytes(b'x')\n"
            "(inbox / 'a\\x1b[31m\\nERROR forged').write_bytes(b'x')\n"
            "(inbox / '000008-R8.json').write_bytes(b'x'); os.link(inbox / '000008-R8.json', inbox / 'second')\n"
            "(inbox / 'inbox.db').write_bytes(b'SQLite format 3')\n"
            "(inbox / 'inbox.db-journal').write_bytes(b'x' * 512)\n"
            "(inbox / '.000009-RA.json.1.part').write_bytes(b'half')\n"
            "(inbox / '000010-RB.json').write_bytes(b'x'); os.chmod(inbox / '000010-RB.json', 0)\n"
        )
        os.mknod(inbox / "000011-RC.json", stat.S_IFCHR | 0o666, os.makedev(1, 5))  # /dev/zero, which never ends
        status, out, err = says(site, OTHER_MEMBER, "note", "left", "remark", "all well", "--yes")
        assert status == 0, err
        assert "Stored for Invented ale" in out
        # Only its owner can move a directory that is full; half a request may still be finished.
        left = {"000007-R7.json", ".000009-RA.json.1.part"}
        until(lambda: {one.name for one in inbox.iterdir()} <= left, "all else is set aside", seen=watching.log)
        until(partial(_heard, site, board), "a reading is stored", seen=watching.log)
        assert "\x1b" not in watching.log()
        assert not [line for line in watching.log().splitlines() if line.startswith("ERROR forged")]
        assert watching.log().count("remove it by hand") <= 1
        assert watching.log().count("the inbox held what is no request") <= 13
        assert Path("/etc/shadow").exists()
        with open_reader(site.store, "home") as reader:
            assert len(reader.batches()) == 1, "the request behind the link was not carried out"
        assert watching.process.poll() is None


def _heard(site: Site, board: Board) -> bool:
    board.say("t1=19.4")
    return bool(site.readings("left-beer"))


def test_a_file_whose_owner_changes_is_asked_by_who_owns_it_when_it_is_read(site: Site) -> None:
    with site.watched() as watching:
        site.open_batch("left")
        part = site.directory.parent / "letter"
        part.write_text(a_letter("R1", id="nothing"))
        os.chown(part, MEMBER.uid, GROUP)
        os.chown(part, OTHER_MEMBER.uid, GROUP)
        part.chmod(0o640)
        part.rename(place(site) / "000001-R1.json")
        until_left_alone(site, watching)
        until(lambda: any(f"uid {OTHER_MEMBER.uid} asked in vain" in one for one in journal(site)), "it is journalled")


def test_members_cannot_take_away_each_others_requests(site: Site) -> None:
    with site.watched() as watching:
        site.open_batch("left")
        until_left_alone(site, watching)
        watching.process.send_signal(signal.SIGSTOP)
        status, out, _ = says(site, MEMBER, "note", "left", "remark", "lid opened", "--yes")
        assert status == 0
        (kept,) = place(site).iterdir()
        done = OTHER_MEMBER.runs("rm", "-f", str(kept))
        assert done.returncode != 0
        assert kept.exists()
        watching.process.send_signal(signal.SIGCONT)
        until_left_alone(site, watching)
        assert "the watcher is busy, and carries it out when it gets to it" in out


def forged(identity: str, batch: str) -> str:
    """Another request under somebody's identity, laid so that it is looked at first."""
    event = {"id": "FORGED", "at": datetime.now(UTC).isoformat(), "kind": "note", "text": "not hers"}
    said = {"id": identity, "site": "home", "kind": "event", "payload": {"batch": batch, "event": event}}
    return json.dumps({**said, "created_at": datetime.now(UTC).isoformat()})


def lay_before(site: Site, letter: str, identity: str) -> None:
    OTHER_MEMBER.python(
        "import os, pathlib\n"
        f"part = pathlib.Path({str(place(site))!r}) / '.forged.part'\n"
        f"part.write_text({letter!r})\n"
        "part.chmod(0o640)\n"
        "os.utime(part, (1, 1))\n"
        f"part.rename(part.with_name('999999-{identity}.json'))\n"
    )


@pytest.mark.parametrize("copied", [False, True])
def test_what_another_member_asks_under_ones_identity_never_answers_for_it(site: Site, copied: bool) -> None:
    """She is told what came of her own measurement, and of nothing else."""
    with site.watched() as watching:
        identity = site.open_batch("left")
        until_left_alone(site, watching)
        watching.process.send_signal(signal.SIGSTOP)
        words = site.command("measure", "left", "hydrometer", "1.020", "--sample", "20C", "--degassed", "--yes")
        asking = subprocess.Popen(
            [*MEMBER.words, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL,
            text=True, env={**os.environ, **site.environment},
        )  # fmt: skip
        (hers,) = until(lambda: [one for one in place(site).iterdir() if one.suffix == ".json"], "she asked")
        letter = hers.read_text() if copied else forged(hers.stem[7:], identity)
        lay_before(site, letter, hers.stem[7:])
        watching.process.send_signal(signal.SIGCONT)
        out, err = asking.communicate(timeout=30)
        until_left_alone(site, watching)
        with open_reader(site.store, "home") as reader:
            measured = [one.gravity_sg for one in reader.measurements(identity)]
        assert len(measured) == 1
        if f"uid {OTHER_MEMBER.uid} measured" in "".join(journal(site)):  # his copy came first: done once, as his
            assert copied
            assert asking.returncode == 1
            assert "There is already a measurement or event" in err
        else:
            assert asking.returncode == 0, err
            assert "Stored 1.020" in out


COMMANDS = (
    ("status",),
    ("batch", "list"),
    ("batch", "show", "left"),
    ("measure", "left", "hydrometer", "1.012", "--yes"),
    ("measure", "list", "left"),
    ("note", "left", "remark", "x", "--yes"),
    ("add", "left", "dry-hop", "--grams", "60", "--yes"),
    ("alarms",),
    ("ack", "temperature-high"),
    ("bottle", "left"),
)


def test_who_is_not_of_the_group_is_told_what_lets_them_in(site: Site) -> None:
    with site.watched():
        site.open_batch("left")
        for words in COMMANDS:
            status, _, err = says(site, OUTSIDER, *words)
            assert status == 77, (words, err)
            assert f"may not be read by uid {OUTSIDER.uid}, who is not in the group" in err
            assert f"sudo usermod -aG fermwatch uid {OUTSIDER.uid}, then log in anew." in err


@pytest.mark.parametrize("mode", [0o750, 0o755])
def test_a_configuration_of_the_group_is_no_traceback_to_others(site: Site, mode: int) -> None:
    os.chown(site.directory, SERVICE.uid, GROUP)
    os.chown(site.config, SERVICE.uid, GROUP)
    site.directory.chmod(mode)
    site.config.chmod(0o640)
    for command in ("status", "check", "watch"):
        status, _, err = says(site, OUTSIDER, command)
        assert status == 77
        assert "fermwatch.toml may not be read by" in err
        assert "usermod -aG" in err


@pytest.mark.needs_tmux
def test_the_dashboard_tells_them_too(site: Site) -> None:
    with site.watched(), Terminal(f"people-{os.getpid()}", columns=120) as terminal:
        terminal.open([*OUTSIDER.words, *site.command("dashboard")], site.environment)
        until(lambda: "usermod -aG fermwatch" in terminal.screen(), "the remedy stands there", seen=terminal.screen)
        assert "Traceback" not in terminal.screen()


def test_who_may_only_read_is_told_when_asking(site: Site) -> None:
    with site.watched():
        site.open_batch("left")
        os.chown(place(site), SERVICE.uid, 61_009)
        place(site).chmod(0o3770)
        assert says(site, MEMBER, "status")[0] == 0
        status, _, err = says(site, MEMBER, "note", "left", "remark", "x", "--yes")
        assert status == 77
        assert "home.inbox may not be written by" in err
        assert "sudo usermod -aG" in err


def test_two_sites_of_one_directory_take_only_their_own(site: Site) -> None:
    shed = Site(site.directory, run_by=SERVICE.words, environment={**site.environment, "FERMWATCH_SITE": "shed"})
    with site.watched() as watching, _also(shed) as other:
        for name in ("home", "shed"):
            status, out, err = says(
                site, MEMBER, "--site", name, "batch", "open", f"Beer of {name}", "--vessel", "left", "--og", "1.050",
                "--yeast", "clean-ale", "--yes",
            )  # fmt: skip
            assert status == 0, err
            assert "Opened" in out, watching.log() + other.log()
        for name in ("home", "shed"):
            with open_reader(site.store, name) as reader:
                assert [batch.name for batch in reader.batches()] == [f"Beer of {name}"]


@contextmanager
def _also(site: Site) -> Iterator[Watching]:
    watching = site.start()
    try:
        watching.says("watching shed")
        yield watching
    finally:
        watching.kill()


@pytest.mark.parametrize("what", ["gone", "file", "everybody", "others"])
def test_a_broken_inbox_is_trouble_and_stops_nothing(site: Site, what: str) -> None:
    if what == "file":
        place(site).write_bytes(b"")
    elif what == "everybody":
        place(site).mkdir()
        os.chown(place(site), SERVICE.uid, GROUP)
        place(site).chmod(0o777)
    elif what == "others":
        place(site).mkdir()
        place(site).chmod(0o3770)
    with board_of(site) as board, site.watched() as watching:
        if what == "gone":
            place(site).rmdir()
        until(partial(_heard, site, board), "a reading is stored", seen=watching.log)
        if what == "gone":
            until(place(site).is_dir, "it is made again", seen=watching.log)
            return
        site.until_status(lambda status: "home.inbox" in status["watcher"]["trouble"], "it is said")
        assert value_of(site.status(), "left-beer") == 19.4
        if what == "file":
            place(site).unlink()
        elif what == "everybody":
            place(site).chmod(0o3770)
        else:
            os.chown(place(site), SERVICE.uid, GROUP)
        site.until_status(lambda status: not status["watcher"]["trouble"], "it is over")


def test_a_thousand_requests_hold_up_no_reading(site: Site) -> None:
    with board_of(site) as board, site.watched() as watching:
        identity = site.open_batch("left")
        until(partial(_heard, site, board), "the board is heard", seen=watching.log)
        before = len(site.readings("left-beer"))
        at = datetime.now(UTC).isoformat()
        watching.process.send_signal(signal.SIGSTOP)
        for number in range(1000):
            event = {"id": f"E{number}", "at": at, "kind": "note", "text": "x"}
            site.ask(RequestKind.EVENT, {"batch": identity, "event": event})
        for file in place(site).iterdir():
            os.chown(file, MEMBER.uid, GROUP)
        watching.process.send_signal(signal.SIGCONT)
        board.say("t1=20.5")
        until(lambda: len(site.readings("left-beer")) > before, "it is stored meanwhile", seen=watching.log)
        waiting = len(list(place(site).iterdir()))
        assert waiting > 0, "it waited until all was carried out"
        until_left_alone(site, watching)
        with open_reader(site.store, "home") as reader:
            assert len(reader.events(identity)) == 1000
