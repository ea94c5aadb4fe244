"""The watcher's side of the inbox: takes requests from a directory in which every member of the group may put anything.

Nothing there is followed, waited for or trusted: regular files of one name and at most 64 KiB are read through the
directory's descriptor, and the file's owner is who asks. What is none is set aside, in a directory that only the
watcher may enter, and told in one line a minute. A turn looks at so many entries at most, however many there are; a
round through all of them takes so many requests of each person at most, and a long one that found none is rested from.
"""

import contextlib
import errno
import logging
import os
import re
import stat
from collections import Counter, deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice, zip_longest
from pathlib import Path

from fermwatch.access import user_name
from fermwatch.clock import Clock, SystemClock
from fermwatch.contracts.inbox import Request
from fermwatch.errors import StoreError, StoreFull
from fermwatch.inbox import letters, sending
from fermwatch.plain_data import Malformed
from fermwatch.text import clean

log = logging.getLogger("fermwatch")

DIRECTORY_MODE = 0o3770  # the group writes; nobody removes another's
ASIDE_MODE = 0o700
LOOK = 500  # entries of the directory in one turn
KEPT_ASIDE = 200  # things; what is more is removed
MOST_STUCK = 10_000
MOST_OF_ONE = 500  # requests of one person in a round: nobody waits behind more of another's
TELL_EVERY_S = 60.0
LONGEST_REST_S = 10.0  # what is asked meanwhile waits for it
RESTS = 20  # times as long as a round took that was longer than a turn and found nothing
OLD_PART_S = 3600.0  # of a request that somebody began to write
_NAME = re.compile(r"\d{6}-([A-Za-z0-9_-]{1,64})\.json", re.ASCII)
_UNSAFE = re.compile(r"[^A-Za-z0-9._-]")
_OPEN_DIRECTORY = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC
_OPEN_FILE = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_NOCTTY | os.O_CLOEXEC
_THIS_FILE_ALONE = {errno.ELOOP, errno.EACCES, errno.EPERM, errno.ENXIO, errno.EISDIR}
_CANNOT_BE_MOVED = {errno.EACCES, errno.EPERM, errno.ENOTEMPTY, errno.EISDIR, errno.EXDEV, errno.EBUSY, errno.ENOTDIR}


_Thing = tuple[int, int, int, int, str]


def _thing(name: str, seen: os.stat_result) -> _Thing:
    """What one entry of the directory is known by again: its inode alone is given to another when it is gone."""
    return seen.st_dev, seen.st_ino, seen.st_ctime_ns, stat.S_IFMT(seen.st_mode), name


class _NoRequest(Exception):
    """Why an entry of the directory is no request."""


@dataclass(slots=True)
class _Untold:
    """What was set aside and not told yet: the first of it will be, and how many there were."""

    count: int = 0
    first: str = ""

    def note(self, name: str, why: str) -> None:
        self.count += 1
        self.first = self.first or f"{clean(name, 60)}: {why}"


@dataclass(slots=True)
class _Round:
    """One walk through the directory, which a flood spreads over many turns."""

    directory: int
    entries: Iterator[os.DirEntry[str]]
    begun_s: float
    found: deque[str] = field(default_factory=deque)
    stuck: set[_Thing] = field(default_factory=set)
    taken: Counter[int] = field(default_factory=Counter)  # requests, by whose they are: uid
    left: Counter[int] = field(default_factory=Counter)  # of whom as many were taken as a round takes
    looked_at: int = 0
    over: bool = False


class FileInbox:
    """contracts.inbox.Inbox over a directory. Used by one thread at a time. Opening it never fails; taking may."""

    def __init__(self, store: Path, site: str, clock: Clock | None = None) -> None:
        """`clock` says how old a half-written file is: the machine's, also where another one decides."""
        self._store, self._clock = store, clock or SystemClock()
        self._place, self._aside = sending.inbox_directory(store, site), store / f"{site}.set-aside"
        self._round: _Round | None = None
        self._kept: int | None = None  # things that lie set aside, counted once a round
        self._names: dict[str, str] = {}  # of the requests that were handed out: key -> file
        self._stuck: set[_Thing] = set()  # what can be neither read nor moved
        self._untold, self._told_s = _Untold(), -TELL_EVERY_S
        self._crowd: set[int] = set()  # uids of whom more waits than a round takes
        self._rest_until_s = 0.0

    def prepare(self) -> None:
        """Make the directories where there are none. StoreError where that cannot be."""
        for place, mode in ((self._place, DIRECTORY_MODE), (self._aside, ASIDE_MODE)):
            with _told_of(place):
                try:
                    place.mkdir()
                except FileExistsError:
                    continue
                _set_mode(place, mode)

    def put(self, request: Request) -> None:
        sending.put(self._store, request)

    @property
    def unfinished(self) -> bool:
        """Whether a turn ended before all was looked at."""
        return self._round is not None

    def waiting(self) -> Iterator[Request | None]:
        """What waits, oldest first; None for each thing that was none, so that whoever counts time may stop there.

        Raises StoreError where the inbox is broken.
        """
        if self._round is None and self._clock.monotonic_s() < self._rest_until_s:
            return
        try:
            with _told_of(self._place):
                round_ = self._looked()
            while round_.found:
                with _told_of(self._place):
                    request = self._taken(round_, round_.found.popleft())
                yield request
        finally:
            if self._round is not None and self._round.over and not self._round.found:
                self._end(self._round)
            self._tell()

    def drop(self, request_key: str) -> None:
        """Forget the request of this key, whose outcome is in the store."""
        name = self._names.pop(request_key, None)
        if name is not None:
            with _told_of(self._place), _opened(self._place) as directory, contextlib.suppress(FileNotFoundError):
                os.unlink(name, dir_fd=directory)

    def _end(self, round_: _Round) -> None:
        """What is remembered of a whole round, and a rest after one that cost much for nothing."""
        self.close()
        self._stuck = round_.stuck
        for uid in round_.left.keys() - self._crowd:
            user, waiting = user_name(uid), round_.left[uid]
            log.warning("%s has %d requests waiting: those of others are carried out between them", user, waiting)
        self._crowd = set(round_.left)
        now_s = self._clock.monotonic_s()
        if round_.looked_at > LOOK and not round_.taken:
            self._rest_until_s = now_s + min(RESTS * (now_s - round_.begun_s), LONGEST_REST_S)

    def _tell(self) -> None:
        """The first time at once, then in one line a minute, whatever a member lays there."""
        untold, now_s = self._untold, self._clock.monotonic_s()
        if untold.count and now_s - self._told_s >= TELL_EVERY_S:
            more = f", and {untold.count - 1} more" if untold.count > 1 else ""
            log.warning("the inbox held what is no request (%s%s): set aside in %s", untold.first, more, self._aside)
            self._untold, self._told_s = _Untold(), now_s

    def close(self) -> None:
        if self._round is not None:
            os.close(self._round.directory)
            self._round = None

    def _looked(self) -> _Round:
        """The round that is under way, or a new one, with what it found to be looked at."""
        if self._round is None:
            self._round = self._begun()
        if not self._round.found:
            self._look(self._round)
        return self._round

    def _begun(self) -> _Round:
        self._names.clear()
        self._kept = None
        if not self._place.exists():
            self.prepare()
        directory = os.open(self._place, _OPEN_DIRECTORY)
        try:
            _check_is_ours(self._place, directory)
            return _Round(directory, os.scandir(directory), self._clock.monotonic_s())
        except BaseException:
            os.close(directory)
            raise

    def _look(self, round_: _Round) -> None:
        found: dict[int, list[tuple[int, str]]] = {}
        count = 0
        for entry in islice(round_.entries, LOOK):
            count += 1
            try:
                seen = entry.stat(follow_symlinks=False)
            except FileNotFoundError:
                continue
            if (thing := _thing(entry.name, seen)) in self._stuck:
                round_.stuck.add(thing)
                continue
            if self._is_being_written(round_.directory, entry.name, seen):
                continue
            if round_.taken[seen.st_uid] >= MOST_OF_ONE and _NAME.fullmatch(entry.name):
                round_.left[seen.st_uid] += 1
                continue
            found.setdefault(seen.st_uid, []).append((seen.st_mtime_ns, entry.name))
        round_.looked_at += count
        round_.over = count < LOOK
        for turns in zip_longest(*(sorted(one) for one in found.values())):
            round_.found.extend(name for _, name in filter(None, turns))

    def _is_being_written(self, directory: int, name: str, seen: os.stat_result) -> bool:
        """Whether it is a part of a request; one that nobody will finish, by a time far from now, is removed."""
        if not (name.startswith(".") and name.endswith(sending.PART) and stat.S_ISREG(seen.st_mode)):
            return False
        if abs(self._clock.now().timestamp() - seen.st_mtime) > OLD_PART_S:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(name, dir_fd=directory)
        return True

    def _taken(self, round_: _Round, name: str) -> Request | None:
        try:
            data, uid = _read(round_.directory, name)
            request = letters.read(name, data, user_name(uid))
        except FileNotFoundError:
            return None
        except (_NoRequest, Malformed) as reason:
            self._set_aside(round_, name, str(reason))
            return None
        except OSError as error:
            if error.errno not in _THIS_FILE_ALONE:
                raise
            self._set_aside(round_, name, f"{error.strerror}")
            return None
        self._names[request.key] = name
        round_.taken[uid] += 1
        return request

    def _set_aside(self, round_: _Round, name: str, why: str) -> None:
        """Out of the way, and out of everybody's reach; what cannot be moved is passed over from now on."""
        directory = round_.directory
        if self._kept is None:
            self.prepare()
            self._kept = len(list(self._aside.iterdir()))
        try:
            seen = os.stat(name, dir_fd=directory, follow_symlinks=False)
            with _opened(self._aside) as aside:
                if self._kept < KEPT_ASIDE:
                    kept = f"{seen.st_ino}-{_UNSAFE.sub('_', name)[:80]}"
                    os.rename(name, kept, src_dir_fd=directory, dst_dir_fd=aside)
                    self._kept += 1
                elif stat.S_ISDIR(seen.st_mode):
                    os.rmdir(name, dir_fd=directory)
                else:
                    os.unlink(name, dir_fd=directory)
        except FileNotFoundError:
            return
        except OSError as error:
            if error.errno not in _CANNOT_BE_MOVED:
                raise
            if len(round_.stuck) >= MOST_STUCK:
                return  # ten thousand were told of
            round_.stuck.add(_thing(name, seen))
            why = f"{why} (and it cannot be moved: remove it by hand)"
        self._untold.note(name, clean(why, 160))


def open_inbox(store: Path, site: str, clock: Clock | None = None) -> FileInbox:
    """A site's inbox for its watcher, made where there is none. What is wrong with it is told when it is taken from."""
    former = store / "inbox" / "inbox.db"
    if former.is_file():
        log.warning("%s is of an earlier version, and not read: ask again for what waits in it, then remove it", former)
    inbox = FileInbox(store, site, clock)
    with contextlib.suppress(StoreError):
        inbox.prepare()
    return inbox


def _check_shape(name: str, seen: os.stat_result) -> None:
    if not stat.S_ISREG(seen.st_mode):
        raise _NoRequest("it is no regular file")
    if not _NAME.fullmatch(name):
        raise _NoRequest("no request is called so")
    if seen.st_nlink != 1:
        raise _NoRequest("it has another name elsewhere")
    if seen.st_size > letters.LARGEST:
        raise _NoRequest(f"it has {seen.st_size} bytes, and a request at most {letters.LARGEST}")


def _read(directory: int, name: str) -> tuple[bytes, int]:
    """What the file holds and the uid of its owner, both of the one file that was opened."""
    _check_shape(name, os.stat(name, dir_fd=directory, follow_symlinks=False))  # no device is so much as opened
    descriptor = os.open(name, _OPEN_FILE, dir_fd=directory)
    with os.fdopen(descriptor, "rb", buffering=0) as file:
        seen = os.fstat(descriptor)
        _check_shape(name, seen)
        data = b""
        while len(data) <= letters.LARGEST and (more := file.read(letters.LARGEST + 1 - len(data))):
            data += more
    if len(data) > letters.LARGEST:
        raise _NoRequest(f"it is longer than {letters.LARGEST} bytes")
    return data, seen.st_uid


def _check_is_ours(place: Path, directory: int) -> None:
    """StoreError where others than its group may write it, or the watcher may not take anything out of it."""
    seen, me = os.fstat(directory), os.geteuid()
    if me not in {0, seen.st_uid}:
        raise StoreError(
            f"{place} belongs to {user_name(seen.st_uid)}, and not to the watcher: nothing is taken from it.",
            hint=f"sudo chown {user_name(me)} {place}",
        )
    if seen.st_mode & stat.S_IWOTH:
        raise StoreError(
            f"Everybody on this machine may write {place}: nothing is taken from it.", hint=f"chmod 3770 {place}"
        )
    if seen.st_mode & stat.S_IWGRP and not seen.st_mode & stat.S_ISVTX:
        os.fchmod(directory, stat.S_IMODE(seen.st_mode) | stat.S_ISVTX)


def _set_mode(place: Path, mode: int) -> None:
    try:
        place.chmod(mode)
    except PermissionError:  # some file systems refuse the set-group-id bit; the rest still matters
        place.chmod(mode & 0o777)


@contextlib.contextmanager
def _opened(place: Path) -> Iterator[int]:
    directory = os.open(place, _OPEN_DIRECTORY)
    try:
        yield directory
    finally:
        os.close(directory)


@contextlib.contextmanager
def _told_of(place: Path) -> Iterator[None]:
    """What the system refuses inside, as a StoreError with a remedy."""
    try:
        yield
    except OSError as error:
        if error.errno in {errno.ENOSPC, errno.EDQUOT}:
            raise StoreFull(f"The disk that holds {place} is full: what people ask waits.") from error
        if error.errno in {errno.ENOTDIR, errno.ELOOP}:
            hint = "Somebody put something in its place: move it away, and the watcher makes a new one."
            raise StoreError(f"{place} is no directory: nobody can ask anything.", hint=hint) from error
        hint = f"Check who owns it, and its mode: ls -ld {place}"
        raise StoreError(f"The inbox {place} cannot be used: {error.strerror}.", hint=hint) from error
