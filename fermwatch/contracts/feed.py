"""What a screen or a text command shows: one frozen picture of the store at one instant, and answers to what is asked
beyond it, as frozen values.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple, Protocol

from fermwatch.contracts.figures import BatchFigures
from fermwatch.contracts.inbox import Outcome
from fermwatch.contracts.kept import Misread, StoreRoom
from fermwatch.contracts.store import Bucket, ControllerStatus, JournalEntry, SourceStatus, WatcherStatus
from fermwatch.model.batch import Batch, Event, GravityMeasurement, PackageChoice
from fermwatch.model.conditioning import Conditioning
from fermwatch.model.finding import Alarm
from fermwatch.model.intent import NOTHING_DECLARED, Course
from fermwatch.model.judgement import Judgement
from fermwatch.model.packaging import Packaging
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.telling import NotifierStatus, Told
from fermwatch.model.window import Window, last_day

if TYPE_CHECKING:
    from fermwatch.contracts.filling import Ground  # its formulas are loaded where somebody fills


class Freshness(StrEnum):
    LIVE = "live"
    STALE = "stale"
    CUT_OFF = "cut off"  # nobody hears it now: its source is lost, or nobody watches
    LAST_KNOWN = "last known"  # a broker's retained value
    FAULTY = "faulty"  # it speaks, and its newest reading is not to be believed
    NEVER = "never heard"


@dataclass(frozen=True, slots=True)
class ProbeView:
    """A probe and what it last said that can be believed, calibrated, in canonical units.

    value, at, age_s: of the last good reading; None where there is none.
    flagged: in words, where the newest reading is not to be taken at its word.
    """

    probe: Probe
    freshness: Freshness
    value: float | None = None
    at: datetime | None = None
    age_s: float | None = None
    flagged: str = ""


@dataclass(frozen=True, slots=True)
class Curves:
    """What a fermenter's beer did within a window, calibrated: at most a bucket a column.

    set_point: as its controller showed it. cool, heat: for which share of the time each output was on.
    """

    window: Window
    beer: tuple[Bucket, ...] = ()
    gravity: tuple[Bucket, ...] = ()
    set_point: tuple[Bucket, ...] = ()
    cool: tuple[Bucket, ...] = ()
    heat: tuple[Bucket, ...] = ()


@dataclass(frozen=True, slots=True)
class Lane:
    """One fermenter. Curves cover the last 24 h, calibrated, at most 96 buckets.

    course: what was declared of its temperature, and whether it is in force now. controllers: those that regulate it
    and that fermwatch may do more with than read.
    """

    vessel: Vessel
    batch: Batch | None
    probes: tuple[ProbeView, ...]
    alarms: tuple[Alarm, ...]
    beer_curve: tuple[Bucket, ...] = ()
    gravity_curve: tuple[Bucket, ...] = ()
    judgement: Judgement | None = None
    measurements: tuple[GravityMeasurement, ...] = ()
    events: tuple[Event, ...] = ()
    course: Course = NOTHING_DECLARED
    controllers: tuple[ControllerStatus, ...] = ()

    def last_day(self, now: datetime) -> Curves:
        return Curves(last_day(now), self.beer_curve, self.gravity_curve)


@dataclass(frozen=True, slots=True)
class InPackage:
    """A beer that has left its fermenter and is not drunk up, with what concerns it."""

    batch: Batch
    packaging: Packaging
    conditioning: Conditioning
    events: tuple[Event, ...] = ()
    judgement: Judgement | None = None  # of the day it was packaged
    alarms: tuple[Alarm, ...] = ()


@dataclass(frozen=True, slots=True)
class Snapshot:
    """now: the deciding instant; wall_now: the reader's own clock, to tell a dead watcher by.

    mistake: in the configuration, with its place and remedy, where nobody watches; waiting: how much of what was asked
    waits then for somebody who does.
    """

    site: str
    timezone: str
    now: datetime
    wall_now: datetime
    watcher: WatcherStatus | None
    lanes: tuple[Lane, ...]
    alarms: tuple[Alarm, ...]
    sources: tuple[SourceStatus, ...]
    in_package: tuple[InPackage, ...] = ()
    stores: tuple[ProbeView, ...] = ()  # probes of the places where packages stand
    lease_held: bool = True  # whether a watcher holds the site, as far as can be told
    misread: tuple[Misread, ...] = ()  # rows that are not in this picture, since this program cannot read them
    mistake: str = ""
    waiting: int = 0
    told: tuple[Told, ...] = ()  # what each notifier told of each alarm last
    notifiers: tuple[str, ...] = ()

    @property
    def watched(self) -> bool:
        return self.watcher is not None and self.watcher.awake(self.wall_now, held=self.lease_held)

    @property
    def held_up(self) -> bool:
        """Whether a watcher is there that can write nothing, as where another program holds the store locked."""
        return self.lease_held and self.watcher is not None and self.watcher.held_up(self.wall_now)


class Unwatched(NamedTuple):
    """What a snapshot tells besides where nobody watches: `Snapshot.mistake` and `Snapshot.waiting`."""

    mistake: str = ""
    waiting: int = 0


class CurvesQuery(NamedTuple):
    """What a fermenter's beer did within a window, at its zoom; nothing of before `since`, as the pitch."""

    vessel: str
    window: Window
    since: datetime | None = None


class BatchQuery(NamedTuple):
    """Everything that is kept of one batch, in a fermenter or not."""

    batch_id: str


class FiguresQuery(NamedTuple):
    """Batches in figures: those named, with all there is of them; of none named, every batch, the newest first."""

    batch_ids: tuple[str, ...] = ()


class JournalQuery(NamedTuple):
    """What happened last, newest first; of a kind, or of a subject, alone where they are named."""

    limit: int = 50
    kind: str = ""
    subject: str = ""


class OutcomesQuery(NamedTuple):
    """What came of these requests."""

    request_keys: tuple[str, ...]


class HealthQuery(NamedTuple):
    """How the store and the ways to people do, beyond what the snapshot tells."""


class FillingQuery(NamedTuple):
    """What a batch would be filled on, in this package. as_of: tells apart what was known of it, and is not read."""

    batch_id: str
    choice: PackageChoice
    as_of: tuple[datetime | int | None, ...] = ()


Query = CurvesQuery | BatchQuery | FiguresQuery | JournalQuery | OutcomesQuery | HealthQuery | FillingQuery
LASTING: tuple[type[Query], ...] = (FillingQuery,)  # whose answer is the same until they ask something else


class CurvesAnswer(NamedTuple):
    query: CurvesQuery
    curves: Curves


class BatchAnswer(NamedTuple):
    """batch: None where there is none of this name."""

    query: BatchQuery
    batch: Batch | None
    measurements: tuple[GravityMeasurement, ...] = ()
    events: tuple[Event, ...] = ()
    judgement: Judgement | None = None


class FiguresAnswer(NamedTuple):
    query: FiguresQuery
    batches: tuple[BatchFigures, ...]


class JournalAnswer(NamedTuple):
    query: JournalQuery
    entries: tuple[JournalEntry, ...]


class OutcomesAnswer(NamedTuple):
    """outcomes: those that there are by now. watched: whether anybody runs who may give the others."""

    query: OutcomesQuery
    outcomes: tuple[Outcome, ...]
    watched: bool


class HealthAnswer(NamedTuple):
    query: HealthQuery
    room: StoreRoom
    notifiers: tuple[NotifierStatus, ...] = ()


class FillingAnswer(NamedTuple):
    """ground: None where it cannot be reckoned; refused says why."""

    query: FillingQuery
    ground: "Ground | None"
    refused: str = ""


Answer = CurvesAnswer | BatchAnswer | FiguresAnswer | JournalAnswer | OutcomesAnswer | HealthAnswer | FillingAnswer


class Feed(Protocol):
    """Used by one thread at a time. Each call is one short, consistent read; StoreError where it cannot be."""

    def changed(self) -> bool: ...
    def snapshot(self, wall_now: datetime) -> Snapshot: ...
    def answer(self, query: Query, wall_now: datetime) -> Answer: ...
    def close(self) -> None: ...
