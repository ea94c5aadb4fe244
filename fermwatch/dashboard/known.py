"""What every page knows: the newest picture of the store, what it answered, and how this person wants it shown."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fermwatch.contracts.feed import Answer, Lane, Query, Snapshot
from fermwatch.dashboard.colours import Colours
from fermwatch.dashboard.events import ReadingFailed
from fermwatch.model.finding import Alarm
from fermwatch.saying.voice import CANONICAL, Units
from fermwatch.saying.watch import unseen, unseen_of_site


@dataclass(frozen=True, slots=True)
class Known:
    """failure: why nothing newer can be read; the last snapshot stays with it.

    answers: the newest of each kind of query; see `answer`. may_ask: whether this person may ask the watcher.
    instruments: the kinds of this person's own, by their names.
    """

    ascii: bool = False
    units: Units = CANONICAL
    look: Colours = Colours.DARK
    may_ask: bool = True
    instruments: Mapping[str, str] = field(default_factory=dict)
    snapshot: Snapshot | None = None
    failure: ReadingFailed | None = None
    answers: Mapping[type[Query], Answer] = field(default_factory=dict)

    def answer(self, query: Query) -> Answer | None:
        """The newest answer of this query's kind: to an earlier one as long as this one has none. It says which."""
        return self.answers.get(type(query))

    def with_answer(self, answer: Answer) -> "Known":
        return replace(self, answers={**self.answers, type(answer.query): answer})

    @property
    def lanes(self) -> tuple[Lane, ...]:
        return self.snapshot.lanes if self.snapshot is not None else ()

    def place(self, vessel: str) -> int:
        """The number of a fermenter's lane; the first one for one that is not there."""
        return next((number for number, lane in enumerate(self.lanes) if lane.vessel.slug == vessel), 0)

    def lane(self, vessel: str) -> Lane | None:
        return self.lanes[self.place(vessel)] if self.lanes else None

    def beside(self, vessel: str, by: int) -> str:
        """The fermenter so many lanes further down; the outermost one where there are not so many."""
        return self.at(self.place(vessel) + by) or vessel

    def at(self, number: int) -> str:
        """The fermenter of a lane; the nearest one for a number beyond them, nothing where there is none."""
        return self.lanes[min(max(number, 0), len(self.lanes) - 1)].vessel.slug if self.lanes else ""

    def batch_of(self, subject: str) -> str:
        """The identity of the batch that is meant: by a fermenter the beer in it, else the last one packaged out of it;
        by anything else that names no fermenter, itself. Empty where a fermenter never held one that still stands.
        """
        lane = next((one for one in self.lanes if one.vessel.slug == subject), None)
        if lane is None:
            return subject
        if lane.batch is not None:
            return lane.batch.id
        beers = self.snapshot.in_package if self.snapshot is not None else ()
        out_of_it = [one.batch for one in beers if one.batch.vessel == subject]
        return max(out_of_it, key=lambda one: one.pitched_at).id if out_of_it else ""

    def waiting(self, lane: Lane | None) -> tuple[Alarm, ...]:
        """The alarms that nobody has seen: the lane's and the site's, else those of packaged beers."""
        if self.snapshot is None:
            return ()
        own = (*(unseen(lane) if lane is not None else ()), *unseen_of_site(self.snapshot))
        return own or self.waiting_in_packages()

    @property
    def has_packages(self) -> bool:
        return self.snapshot is not None and bool(self.snapshot.in_package)

    def waiting_in_packages(self) -> tuple[Alarm, ...]:
        beers = self.snapshot.in_package if self.snapshot is not None else ()
        return tuple(alarm for one in beers for alarm in unseen(one))
