"""What controllers need of the store, in its thread: what a plan wants of them, how far a person let fermwatch go, and
the lines of the journal for all that was done.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.brewing.planning import declares
from fermwatch.contracts.store import ControllerStatus, JournalEntry, Writer
from fermwatch.control.degree import OBSERVING, Arming, arming_said
from fermwatch.control.guard import SetPointWish
from fermwatch.control.setting import DAY_S
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Batch, EventKind
from fermwatch.model.degree import Output
from fermwatch.model.finding import Finding
from fermwatch.model.plan import PlanProgress, progress_of
from fermwatch.model.quantity import Quantity
from fermwatch.model.subject import About
from fermwatch.rules.instruments import FAULT, SILENT, SOURCE_LOST
from fermwatch.rules.situation import GoodReading
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.judges import Judges
from fermwatch.watching.keeper import Keeper
from fermwatch.watching.memory import Memory

CONTROL = "control"  # the journal's kind for set points, which wear a memory out
SWITCHED = "switch"  # and for outputs
KEPT_EVERY = timedelta(minutes=1)  # what a controller does, also where nothing is new
MOST_WRITES = 500  # of a day that are looked for in the journal


@dataclass(frozen=True, slots=True)
class ControlView:
    """At the deciding instant `at`. wanted: None where no plan is under way. beer, air: None where nothing believable
    was heard just now.
    """

    at: datetime
    wanted: SetPointWish | None
    arming: Arming
    beer: GoodReading | None = None
    air: GoodReading | None = None


class Controls:
    """Used in the store's thread alone."""

    def __init__(self, store: Writer, judges: Judges, keeper: Keeper, memory: Memory) -> None:
        self._store, self._judges, self._keeper, self._memory = store, judges, keeper, memory
        self.statuses: dict[str, ControllerStatus] = {}  # by the name of its source
        self._kept: dict[str, tuple[datetime, ControllerStatus]] = {}  # as the store has it, and since when

    def view(self, now: datetime, *, controller: str, vessel: str) -> ControlView:
        subject = About.CONTROLLER.of(controller)
        said = self._store.journal(kind="request", subject=subject, limit=1)
        arming = arming_said(said[0].text, said[0].at) if said else OBSERVING
        following, wanted = self._judges.in_vessel(vessel), None
        if following is not None:
            progress = progress_of(self._store.events(following.batch.id, strict=False), now)
            wanted = None if progress is None else wanted_by(progress, following.batch, now)
        beer, air = (
            self._memory.last_good(vessel, quantity, now)
            for quantity in (Quantity.BEER_TEMPERATURE, Quantity.AIR_TEMPERATURE)
        )
        return ControlView(now, wanted, arming, beer, air)

    def writes_ago_s(self, now: datetime, *, controller: str) -> tuple[float, ...]:
        """How long ago each write of the last day was, seconds: a memory that wears out knows no restarts."""
        subject = About.CONTROLLER.of(controller)
        entries = self._store.journal(kind=CONTROL, subject=subject, limit=MOST_WRITES)
        ages = ((now - entry.at) / timedelta(seconds=1) for entry in entries)
        return tuple(age_s for age_s in ages if 0.0 <= age_s < DAY_S)

    def note_write(self, now: datetime, *, controller: str, target_c: float, turned_to_c: float | None) -> None:
        """Before it is written: a write that is not in the journal is not made. turned_to_c: what it shows although the
        target stood in it; None where it never did. Raises StoreError.
        """
        turned = (
            "" if turned_to_c is None else f": it was turned to {temperature(turned_to_c)} at the device, or forgot"
        )
        text = f"the set point {temperature(target_c)} is written, by the plan{turned}"
        self._store.enter([JournalEntry(now, CONTROL, About.CONTROLLER.of(controller), text)])

    def note_switch(self, now: datetime, *, controller: str, on: frozenset[Output], why: str) -> None:
        """Raises StoreError."""
        what = f"{' and '.join(sorted(on))} on" if on else "everything off"
        text = f"{what}: {why}" if why else f"{what}, by the plan"
        self._store.enter([JournalEntry(now, SWITCHED, About.CONTROLLER.of(controller), text)])

    def note_status(self, now: datetime, *, status: ControllerStatus) -> None:
        """What it does now; kept for those who look when it is news, and otherwise once a minute. Raises StoreError."""
        kept = self._kept.get(status.name)
        news = replace(status, at=None)
        self.statuses[status.name] = status
        if kept is None or kept[1] != news or now - kept[0] >= KEPT_EVERY or now < kept[0]:
            self._store.set_controller(status)
            self._kept[status.name] = (now, news)

    def of_vessel(self, vessel: str) -> ControllerStatus | None:
        return next((one for one in self.statuses.values() if one.vessel == vessel), None)

    def tell(self, now: datetime, *, finding: Finding, unseen_in: str = "") -> list[AlarmChange]:
        """unseen_in: the fermenter whose beer's temperature is not known, which is the cause."""
        teller = self._why_unseen(unseen_in) if unseen_in else ""
        changes = self._keeper.decider.absorb([replace(finding, told_by=teller)], now)
        self._keeper.keep(changes)
        return changes

    def _why_unseen(self, vessel: str) -> str:
        """The rule whose alarm tells already why the beer's temperature is not known; empty where none does."""
        for one in self._memory.series.values():
            if one.probe.vessel != vessel or one.probe.quantity is not Quantity.BEER_TEMPERATURE:
                continue
            probe = About.PROBE.of(one.probe.slug)
            for key in ((SOURCE_LOST, About.SOURCE.of(one.probe.source)), (SILENT, probe), (FAULT, probe)):
                alarm = self._keeper.decider.alarms.get(key)
                if alarm is not None and alarm.stands and not alarm.suppressed_by:
                    return alarm.rule
        return ""


def wanted_by(progress: PlanProgress, batch: Batch, now: datetime) -> SetPointWish | None:
    """What a plan wants of a controller now; None once it is over."""
    target_c = progress.set_point_c(now)
    if target_c is None:
        return None
    declared = declares(progress, batch.yeast)
    meant = None if declared is None or declared[0] is EventKind.BACK_TO_RANGE else declared[0]
    from_c = progress.from_c if now < progress.there_at else None
    return SetPointWish(target_c, batch.yeast, meant, bool(progress.although), from_c)
