"""What controllers need of the store, in its thread: what a plan wants of them, how far a person let fermwatch go, and
the lines of the journal for all that was done.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.brewing.planning import declares
from fermwatch.contracts.controller import Output
from fermwatch.contracts.store import JournalEntry, Writer
from fermwatch.control.degree import OBSERVING, Arming, arming_said
from fermwatch.control.guard import SetPointWish
from fermwatch.control.setting import DAY_S
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Batch, EventKind
from fermwatch.model.finding import Finding
from fermwatch.model.plan import PlanProgress, progress_of
from fermwatch.model.quantity import Quantity
from fermwatch.model.subject import About
from fermwatch.rules.situation import GoodReading
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.judges import Judges
from fermwatch.watching.keeper import Keeper
from fermwatch.watching.memory import Memory

CONTROL = "control"  # the journal's kind for set points, which wear a memory out
SWITCHED = "switch"  # and for outputs
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

    def note_write(self, now: datetime, *, controller: str, target_c: float) -> None:
        """Before it is written: a write that is not in the journal is not made. Raises StoreError."""
        text = f"the set point {temperature(target_c)} is written, by the plan"
        self._store.enter([JournalEntry(now, CONTROL, About.CONTROLLER.of(controller), text)])

    def note_switch(self, now: datetime, *, controller: str, on: frozenset[Output], why: str) -> None:
        """Raises StoreError."""
        what = f"{' and '.join(sorted(on))} on" if on else "everything off"
        text = f"{what}: {why}" if why else f"{what}, by the plan"
        self._store.enter([JournalEntry(now, SWITCHED, About.CONTROLLER.of(controller), text)])

    def tell(self, now: datetime, *, finding: Finding) -> list[AlarmChange]:
        changes = self._keeper.decider.absorb([finding], now)
        self._keeper.keep(changes)
        return changes


def wanted_by(progress: PlanProgress, batch: Batch, now: datetime) -> SetPointWish | None:
    """What a plan wants of a controller now; None once it is over."""
    target_c = progress.set_point_c(now)
    if target_c is None:
        return None
    declared = declares(progress, batch.yeast)
    meant = None if declared is None or declared[0] is EventKind.BACK_TO_RANGE else declared[0]
    from_c = progress.from_c if now < progress.there_at else None
    return SetPointWish(target_c, batch.yeast, meant, bool(progress.although), from_c)
