"""What the store keeps besides readings, as plain values, and what a writer and a reader of it can do.

The watcher alone writes, from one thread. Dashboards and text commands open a reader of their own and never write:
what people say goes through the inbox.
"""

from array import array
from collections.abc import Callable, Collection, Hashable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self

from fermwatch.contracts.backup import Contents, Restored
from fermwatch.contracts.inbox import Outcome, Request
from fermwatch.contracts.kept import Appended, Misread, StoreRoom
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Binding, Probe, Vessel
from fermwatch.model.reading import Flag, Reading
from fermwatch.model.telling import NotifierStatus, Told

# A watcher gives a sign of life every few seconds; a busy disk may delay one.
SILENT_WATCHER = timedelta(seconds=30)
BUSY_DISK = timedelta(seconds=2)


class SourceState(StrEnum):
    STARTING = "starting"
    CONNECTED = "connected"
    UNAVAILABLE = "unavailable"  # tried again by itself
    REFUSED = "refused"  # a person must act


@dataclass(frozen=True, slots=True)
class SourceStatus:
    """How a source of readings does. `detail` is one cleaned line; counts are since the watcher started."""

    name: str
    driver: str
    state: SourceState
    detail: str
    since: datetime
    readings: int = 0
    rejected: int = 0
    last_rejection: str = ""
    unbound_channels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ControllerStatus:
    """What a controller does that fermwatch may do more with than read it, as the watcher saw it last.

    name: its source's. degree: how far fermwatch may go with it now. target_c: where the plan wants the beer; None
    where no plan is under way. set_point_c, on: as the device showed at `at`; None what it does not show. at: None
    where it was never seen. alarms: the alarm bits that it shows. trouble: why what the plan wants is not done, or why
    it cannot be read; empty where all is well. at_most, low_c, high_c: as the configuration allows; limits of None: it
    is never written to. said_by, said_at: who said last how far fermwatch may go, if ever somebody did. waits: what an
    output that the thermostat wishes waits for, as it must.
    """

    name: str
    vessel: str
    degree: Degree
    target_c: float | None = None
    set_point_c: float | None = None
    on: tuple[Output, ...] | None = None
    at: datetime | None = None
    alarms: tuple[str, ...] = ()
    trouble: str = ""
    at_most: Degree = Degree.OBSERVE
    low_c: float | None = None
    high_c: float | None = None
    said_by: str = ""
    said_at: datetime | None = None
    waits: str = ""

    @property
    def aim_c(self) -> float | None:
        """What it goes by: the plan's target where fermwatch switches its outputs, else its own set point."""
        return self.target_c if self.degree is Degree.DRIVE else self.set_point_c


@dataclass(frozen=True, slots=True)
class WatcherStatus:
    """The watcher's last sign of life.

    now: the deciding instant (the demo's runs fast); beat_at: wall time of the sign itself.
    """

    version: str
    pid: int
    started_at: datetime
    now: datetime
    beat_at: datetime
    last_commit_at: datetime | None = None
    readings_stored: int = 0
    duplicates: int = 0
    trouble: str = ""  # one line where the store itself has trouble, as a full disk
    stopped: bool = False
    beat_every_s: float = 5.0  # how often it gives a sign of life
    refused_configuration: str = ""  # why the configuration that is there now was not taken up

    def awake(self, wall_now: datetime, *, held: bool = True) -> bool:
        """Whether it watches, by its last sign of life: a busy disk may delay one.

        held: whether somebody holds the site's lease; where signs of life are seldom, a killed watcher is seen by that.
        """
        silent = max(SILENT_WATCHER, timedelta(seconds=2.5 * self.beat_every_s)) if held else SILENT_WATCHER
        return not self.stopped and abs(wall_now - self.beat_at) <= silent

    def held_up(self, wall_now: datetime) -> bool:
        """Whether two signs of life in a row are missing, and not because it was stopped."""
        return not self.stopped and wall_now - self.beat_at > timedelta(seconds=2 * self.beat_every_s) + BUSY_DISK

    def now_at(self, wall_now: datetime) -> datetime:
        """The deciding instant: between two signs of life, and after the last one, time goes on, so that nothing stays
        fresh because nobody looks; and a sign of a time to come is of a clock that was set back since."""
        return self.now + (wall_now - self.beat_at)


def deciding_now(watcher: WatcherStatus | None, wall_now: datetime) -> datetime:
    """For whoever looks or asks: the watcher's, and the wall's where nobody has watched yet."""
    return wall_now if watcher is None else watcher.now_at(wall_now)


@dataclass(frozen=True, slots=True)
class StoredProbe:
    """A probe as the store knows it: the number its readings are kept under, and how it is configured now."""

    series: int
    probe: Probe


@dataclass(frozen=True, slots=True)
class Latest:
    """The newest reading of a series, uncalibrated. `last_known`: a broker's retained value, never a fresh one, whose
    age is only known (`age_known`) where it says its time itself; else `at` is when it was handed out.
    """

    series: int
    at: datetime
    value: float
    flags: Flag = Flag.GOOD
    last_known: bool = False
    age_known: bool = True


@dataclass(frozen=True, slots=True)
class Bucket:
    """What a series did within a span that begins at `at`: so that a spike is never averaged away. Uncalibrated."""

    at: datetime
    count: int
    low: float
    high: float
    mean: float

    def joined(self, other: "Bucket") -> "Bucket":
        """Both as one that begins where this one does."""
        count = self.count + other.count
        mean = (self.mean * self.count + other.mean * other.count) / count
        return Bucket(self.at, count, min(self.low, other.low), max(self.high, other.high), mean)


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """Something that happened, in words: kept for ever."""

    at: datetime
    kind: str  # "alarm", "source", "request", "watcher", "store"
    subject: str
    text: str


class Past(Protocol):
    """What those who judge and decide need to know of a site: a store knows it, and so does a log that is replayed."""

    def vessels(self) -> tuple[Vessel, ...]: ...
    def series(self, *, every: bool = False) -> tuple[StoredProbe, ...]:
        """Of the probes configured now, in the configuration's order; with `every`, then of those that once were."""

    def bindings(self) -> tuple[Binding, ...]:
        """All that ever held, by series and then time: see model.history."""

    def latest(self) -> Mapping[int, Latest]: ...
    def readings(self, series: int, start: datetime, end: datetime) -> Sequence[Reading]:
        """Raw rows with start <= at < end, in time order, flagged ones too."""

    def believed(self, series: int, start: datetime, end: datetime) -> "tuple[array[int], array[float]]":
        """Instants in milliseconds since 1970 and uncalibrated values of the same rows, but for those that are not
        believable: bare numbers, for whoever hears weeks of them."""

    def open_batches(self) -> tuple[str, ...]:
        """Their identities, oldest pitch first: to read them one by one, where one may be unreadable."""

    def batch(self, batch_id: str) -> Batch | None:
        """Raises UnreadableRow."""

    def batches(self, *, ended: bool = False) -> tuple[Batch, ...]:
        """Open batches, oldest pitch first; with `ended`, all. One that cannot be read is left out."""

    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]: ...
    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]:
        """Raises UnreadableRow, since no verdict may pass over what was said; not `strict`, such a row is left out."""

    def judgement(self, batch_id: str) -> Judgement | None: ...


class Reader(Past, Protocol):
    """Short reads, each one consistent; of many rows, one that cannot be read is left out (see misread).

    None holds a transaction open afterwards. Used by one thread at a time; closed at the end of a `with`.
    """

    def __enter__(self) -> Self: ...
    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None: ...
    def at_one_instant(self) -> AbstractContextManager[None]:
        """All reads inside see the same state. Keep it short."""

    def changed(self) -> bool:
        """Whether anything was committed since the last call. Cheap enough to ask four times a second."""

    def site(self) -> tuple[str, str]:
        """The site's slug and its IANA time zone."""

    def watcher(self) -> WatcherStatus | None:
        """Raises UnreadableRow: without it nothing can be said of now."""

    def pages(self, series: int, start: datetime, end: datetime, size: int = 2_000) -> Iterator[Sequence[Reading]]:
        """The rows of `readings`, so many at a time and each page a read of its own: for who goes through years."""

    def last_good(self, last: Latest) -> Latest | None:
        """The last reading of the series, up to that one, that can be believed; cheap however long ago it was."""

    def buckets(
        self,
        series: int,
        start: datetime,
        end: datetime,
        columns: int,
        within: tuple[datetime, datetime] | None = None,
    ) -> Sequence[Bucket]:
        """Column i of `columns` equal ones over [start, end) is the bucket that begins at start + i spans; empty ones
        are left out. From the roll-ups; good readings only, and `within` a part of it only those of that part."""

    def room(self) -> StoreRoom: ...
    def misread(self) -> tuple[Misread, ...]:
        """What was left out of what was asked for since `at_one_instant` began last, since it cannot be read."""

    def alarms(self) -> tuple[Alarm, ...]: ...
    def sources(self) -> tuple[SourceStatus, ...]: ...
    def controllers(self) -> tuple[ControllerStatus, ...]:
        """Those that are configured now, by name."""

    def notifiers(self) -> tuple[NotifierStatus, ...]:
        """Those that are configured now, by name."""

    def told(self) -> tuple[Told, ...]:
        """What each notifier told of each alarm last."""

    def journal(self, *, limit: int = 50, kind: str = "", subject: str = "") -> tuple[JournalEntry, ...]: ...
    def outcome(self, request_key: str) -> Outcome | None:
        """What came of the request of this key."""

    def close(self) -> None: ...


class Writer(Reader, Protocol):
    """The watcher's side; holds the site's lease. Each call is one fully synced transaction, or nothing.

    Raises StoreFull where the disk is full, StoreError otherwise; never leaves half a transaction.
    """

    def declare(
        self, timezone: str, vessels: Sequence[Vessel], probes: Sequence[Probe], now: datetime
    ) -> Mapping[str, int]:
        """Write what was configured; slug -> series. A changed calibration or vessel is a new binding from now;
        a probe that is configured no more serves no fermenter from now on."""

    def append(self, readings: Sequence[Reading], new_sessions: Collection[int] = ()) -> Appended:
        """Store readings, each once however often it is delivered. new_sessions: series of which no earlier message
        can come again, since their broker has forgotten us."""

    def set_last_known(self, latest: Sequence[Latest]) -> None: ...
    def mark_ahead(self, now: datetime) -> bool:
        """Mark readings that were stored under a time that is yet to come: they are no longer the newest of their
        series, and are believed no more. Cheap where there are none; whether there were."""

    def take_off_marks(self, after: datetime, until: datetime) -> bool:
        """The clock moved from one instant to the other: what lies between was not ahead after all."""

    def beat(self, status: WatcherStatus) -> None: ...
    def set_source(self, status: SourceStatus) -> None: ...
    def set_controller(self, status: ControllerStatus) -> None: ...
    def forget_controllers(self, but: Collection[str]) -> None:
        """What is kept of all but these goes: they are configured no more."""

    def set_notifier(self, status: NotifierStatus, told: Sequence[Told] = ()) -> None:
        """told: what it has just told, in the same transaction."""

    def forget_notifiers(self, but: Collection[str]) -> None:
        """What is kept of all but these goes, and what they told too: they are configured no more."""

    def forget_told(self, keys: Sequence[tuple[str, str]]) -> None:
        """What anybody told of these (rule, subject) goes."""

    def save_alarms(self, alarms: Sequence[Alarm], entries: Sequence[JournalEntry]) -> None: ...

    def forget_alarms(self, keys: Sequence[tuple[str, str]]) -> None:
        """Drop the rows of these (rule, subject)."""

    def save_judgement(self, batch_id: str, judgement: Judgement) -> None: ...
    def enter(self, entries: Sequence[JournalEntry]) -> None: ...
    def apply(self, request: Request, now: datetime) -> Outcome:
        """Carry out a request and record its outcome in one transaction. Applied twice, it is done
        once."""

    def trouble(self) -> str:
        """One line where the store itself has trouble, as a full disk; else nothing. StoreGone where it was taken
        away."""

    def check_in_place(self) -> None:
        """StoreGone where the store was taken away under this writer."""

    def was_written(self) -> bool:
        """Whether anybody, this writer too, changed what is kept for good since this was asked last, as far as can be
        seen without reading it. StoreGone where it was taken away."""


class Store(Protocol):
    """One site's store, wherever it lies. Nothing is open before its reader or its writer is.

    made_of: what keeps it, with its version, in words.
    """

    made_of: str

    def check_sound(self, given_up: Callable[[], bool]) -> None:
        """Read all of it, for seconds perhaps: StoreDamaged where its structure is not whole. What is well formed and
        says something else than was written is not seen. given_up: asked meanwhile, whether to leave it at that."""

    def reader(self) -> Reader:
        """StoreError where there is no store, StoreForbidden for who may not read it, StoreVersion where it is of
        another version."""

    def writer(self, now: datetime, *, create: bool = True) -> Writer:
        """Take the site's lease and open its store, making (unless not to `create`) or upgrading it where needed.

        LeaseTaken where another process holds the site, StoreVersion where a newer version wrote the store, StoreGone
        where there is none and none is to be made, StoreFull or StoreError where it cannot be opened.
        """

    def back_up(self, target: Path) -> Contents:
        """Copy it as it is at one instant, beside whoever writes, into a new file, which bears its name only once it
        was read back from the disk: whole, and as much as was copied.

        InputError where `target` is there already, StoreFull where it has no room, StoreError otherwise.
        """

    def restore(
        self, source: Path, now: datetime, *, replace: bool, entries: "Callable[[Reader], Sequence[JournalEntry]]"
    ) -> Restored:
        """Put a backup in the place of the store, under the site's lease; all of it is read before anything is moved.

        replace: also where the store holds something, which is then kept aside. entries: what the journal of the
        backup, as read, is to say of this. LeaseTaken where somebody watches, InputError where something is held and
        not to be replaced, StoreVersion, StoreDamaged or StoreError where the backup cannot be used.
        """

    def is_held(self) -> bool:
        """Whether a process holds the site's lease, as far as that can be told without asking for it."""

    def trace(self) -> Hashable | None:
        """What changes whenever what lies there does, without opening it; None where nothing does."""
