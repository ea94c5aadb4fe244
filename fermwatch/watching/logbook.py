"""What the watcher knows and does, step by step, in the one thread that writes: take readings, attend to what people
ask, judge and decide. It waits for nothing and reads no clock, so that tests and the demo drive it at any speed.

The steps themselves are the chores of `watching/`; here they are put together, each thing behind its boundary: a batch
or a fermenter that cannot be judged raises an alarm that says so, and all the others are watched as ever.
"""

from collections.abc import Callable, Collection, Iterator, Mapping
from concurrent.futures import Executor, Future, wait
from datetime import datetime
from functools import partial

from fermwatch.brewing.bottle_store import stood
from fermwatch.contracts.inbox import Inbox, Outcome, Request, RequestKind
from fermwatch.contracts.kept import Appended
from fermwatch.contracts.store import JournalEntry, SourceStatus, Writer
from fermwatch.errors import StoreError
from fermwatch.ingest.pipeline import Intake
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.conditioning import Stood
from fermwatch.model.packaging import packaging_of
from fermwatch.model.reading import Reading
from fermwatch.model.rule_settings import DEFAULTS, RuleSettings, for_batch
from fermwatch.model.subject import About
from fermwatch.notify.hours import Hours
from fermwatch.rules.catalogue import BOTTLE_STORE, IN_PACKAGE, rules
from fermwatch.rules.unjudged import NOT_JUDGED, unjudged
from fermwatch.saying.voice import CANONICAL, Units
from fermwatch.watching.absence import Absence, found, told
from fermwatch.watching.boundary import Boundary
from fermwatch.watching.clerk import Attended, Clerk
from fermwatch.watching.controls import Controls
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.judges import Following, Judges
from fermwatch.watching.judging import AtOnce, Bench, Judged
from fermwatch.watching.keeper import Keeper
from fermwatch.watching.memory import Memory
from fermwatch.watching.planner import Planner
from fermwatch.watching.recorder import Recorder
from fermwatch.watching.tellings import Tellings
from fermwatch.watching.timekeeper import Look

BATCH_REQUESTS = {RequestKind.OPEN_BATCH, RequestKind.EDIT_BATCH, RequestKind.END_BATCH}
NONE: Mapping[str, str] = {}
ALARM_REQUESTS = {RequestKind.ACKNOWLEDGE, RequestKind.SHELVE, RequestKind.UNSHELVE, RequestKind.SERVICE}


class Logbook:
    """The store, the inbox, the alarms and the judges of one site."""

    def __init__(
        self,
        writer: Writer,
        inbox: Inbox,
        settings: Callable[[str], RuleSettings] = lambda _: DEFAULTS,
        make_judge: Callable[[Batch], Judge] = Judge,
        judging: Executor | None = None,
        hours: Hours | None = None,
        units: Units = CANONICAL,
    ) -> None:
        """judging: where judges do their work, one thing at a time; where not given, here and at once.

        hours, units: when people are told, and in what.
        """
        self._writer, self._settings = writer, settings
        self._boundary = Boundary()
        self._recorder = Recorder(writer)
        self._memory = Memory()
        self._judges = Judges(writer, self._boundary, Bench(make_judge), judging or AtOnce())
        self._keeper = Keeper(writer)
        self._planner = Planner(writer, self._after)
        self.controls = Controls(writer, self._judges, self._keeper, self._memory)
        self.tellings = Tellings(writer, self._judges, self._keeper, hours, units)
        self._absence: Absence | None = None  # that is still to be told
        self._clerk = Clerk(writer, inbox, before=self._keeper.keep, after=self._after)

    def begin(
        self,
        now: datetime,
        sources: Collection[str] | None = None,
        controllers: Collection[str] = (),
        notifiers: Mapping[str, str] = NONE,
    ) -> None:
        """Read back what is needed to go on as if never interrupted.

        sources: the names of those configured, which are still starting and known to nobody; None where not known.
        controllers: the names of those that are configured. notifiers: of each, by what it tells.
        """
        self._writer.forget_controllers(controllers)
        self._writer.mark_ahead(now)
        self._recorder.recall(now)
        self._memory.recall(self._writer, now)
        self._judges.follow()
        self._retire_what_is_no_more(now, sources)
        self.tellings.begin(now, notifiers)
        self._absence = found(self._writer, now)

    def take(self, intake: Intake) -> Appended:
        """Commit readings, then let the judges hear them. StoreError where they could not be committed."""
        appended, readings = self._recorder.commit(intake)
        for reading in readings:
            heard = self._memory.series.get(reading.series)
            if heard is not None:
                self._boundary.contained(About.PROBE.of(heard.probe.slug), "hearing it", partial(self._hear, reading))
        return appended

    def note_source(self, status: SourceStatus) -> None:
        """How a source does; a change of state is written into the journal."""
        before = self._memory.sources.get(status.name)
        self._memory.sources[status.name] = status
        self._writer.set_source(status)
        if before is None or before.state is not status.state:
            text = f"{status.state}: {status.detail}"
            self._writer.enter([JournalEntry(status.since, "source", status.name, text)])

    def time_is(self, look: Look) -> None:
        """What is remembered moves along with deciding time: a jump of it is neither silence nor a timer run out."""
        self._memory.time_is(look.now, look.ahead, look.moved)
        self._look_for_readings_ahead(look)
        for text in look.news:
            self._keeper.enter(JournalEntry(look.now + look.ahead, "watcher", "clock", text))
        if look.moved:
            self._keeper.move(look.moved, look.now)
            self.tellings.move(look.moved)
        elif look.news:
            self._keeper.keep()

    def _look_for_readings_ahead(self, look: Look) -> None:
        """What was stored under a time that is yet to come is found out once the clock is believed."""
        freed = look.moved.total_seconds() > 0 and self._writer.take_off_marks(look.now - look.moved, look.now)
        marked = not look.ahead and self._writer.mark_ahead(look.now)
        if freed or marked:
            self._judges.hear_anew()

    def attend(self, now: datetime) -> list[Outcome]:
        """Carry out what people asked, oldest first; each exactly once, each with an outcome."""
        return self._clerk.attend(now)

    def attend_a_slice(self, now: datetime, used_up: Callable[[], bool]) -> Attended:
        """The same, until the time of the slice is used up."""
        return self._clerk.take_slice(now, used_up)

    def decide(self, now: datetime) -> list[AlarmChange]:
        """Judge every batch, evaluate every rule, keep what changed; waits for the judges."""
        for _ in self.making_ready(now):
            pass
        wait(self.unanswered)
        self.tell_judges(now)
        wait(self.unanswered)
        return [change for changes in self.deciding(now) for change in changes]

    def making_ready(self, now: datetime) -> Iterator[None]:
        """Tell the judges who know nothing what was heard until now, step by step."""
        return self._judges.making_ready(now)

    def tell_judges(self, now: datetime) -> tuple[Future[Judged], ...]:
        """Tell the judges who know the past what is new; what they have not answered yet."""
        self._judges.tell(now)
        return self._judges.unanswered

    @property
    def unanswered(self) -> tuple[Future[Judged], ...]:
        """What judges were asked and have not answered yet: what they say is taken up by the next decisions."""
        return self._judges.unanswered

    def deciding(self, now: datetime) -> Iterator[list[AlarmChange]]:
        """Take up what judges said and evaluate every rule, step by step, with what changed: between two steps,
        whoever waits for the store may go on.

        What the store refuses (StoreError) is told at the end: every fermenter is decided upon first.
        """
        refused: list[StoreError] = []
        yield self._kept(self._decide_sources(now), refused)
        for following in self._judges.all:
            self._take_answer(following, now, refused)
            yield []
        for vessel in self._writer.vessels():
            deciding = partial(self._decide, vessel.slug, now)
            yield self._kept(self._decided(About.FERMENTER.of(vessel.slug), deciding, refused), refused)
        for following in self._judges.all:
            if following.batch.in_package:
                deciding = partial(self._decide_in_package, following, now)
                yield self._kept(self._decided(following.subject, deciding, refused), refused)
        deciding = partial(self._decide_bottle_store, now)
        yield self._kept(self._decided(About.SITE.of("bottle-store"), deciding, refused), refused)
        yield self._kept(self._tell_of_faults(now), refused)
        yield self._kept(self.tellings.decide(now), refused)
        if self._absence is not None:
            telling = partial(self._tell_of_absence, self._absence, now)
            yield self._kept(self._decided(About.SITE.of("watcher"), telling, refused), refused)
        self._forget_long_gone(now, refused)
        if refused:
            raise refused[0]

    def _decide_sources(self, now: datetime) -> list[AlarmChange]:
        """A source that is mute matters while one of its probes is in a fermenter that holds a beer."""
        beers = {following.batch.vessel for following in self._judges.all if not following.batch.in_package}
        mute = self._memory.mute(now, beers)
        return self._keeper.decider.decide_sources(
            tuple(self._memory.sources.values()), now, mute, self.controls.statuses
        )

    def _forget_long_gone(self, now: datetime, refused: list[StoreError]) -> None:
        try:
            self._keeper.forget_long_gone(now)
        except StoreError as error:
            refused.append(error)

    def _hear(self, reading: Reading) -> None:
        self._memory.remember(reading)
        self._judges.hear(reading)

    def _take_answer(self, following: Following, now: datetime, refused: list[StoreError]) -> None:
        if not self._judges.follows(following):
            return
        self._judges.take_answer(following, now)
        judgement = following.judgement
        if judgement is None or judgement == following.saved:
            return
        save = partial(self._writer.save_judgement, following.batch.id, judgement)
        try:
            self._boundary.contained(following.subject, "saving its judgement", save)
        except StoreError as error:
            refused.append(error)
        else:
            following.keep()

    def _decided(
        self, subject: str, decide: Callable[[], list[AlarmChange]], refused: list[StoreError]
    ) -> list[AlarmChange]:
        try:
            return self._boundary.contained(subject, "deciding", decide) or []
        except StoreError as error:
            refused.append(error)
            return []

    def _decide(self, vessel: str, now: datetime) -> list[AlarmChange]:
        """Each rule behind a boundary of its own: one that fails leaves the others to speak."""
        contained = partial(self._boundary.contained, About.FERMENTER.of(vessel))
        following = self._judges.in_vessel(vessel)
        batch = None if following is None else following.batch
        settings = self._settings(vessel)
        events: tuple[Event, ...] | None = ()
        if batch is not None:
            events = contained("reading its events", partial(self._writer.events, batch.id, strict=False))
            settings = self._settings_of(batch, About.FERMENTER.of(vessel))
        judgement = None if following is None else following.judgement
        if batch is not None and events:
            contained("going on with its plan", partial(self._planner.go_on, batch, judgement, events, now))
        controller = self.controls.of_vessel(vessel)
        situation = self._memory.situation(
            vessel, now, batch=batch, judgement=judgement, events=events or (), controller=controller
        )
        return self._keeper.decider.decide(situation, settings, contained)

    def _decide_in_package(self, following: Following, now: datetime) -> list[AlarmChange]:
        contained, batch = partial(self._boundary.contained, following.subject), following.batch
        events = contained("reading its events", partial(self._writer.events, batch.id, strict=False))
        packaging = packaging_of(events or ())
        heard: tuple[Stood, ...] | None = ()
        if packaging is not None:
            heard = contained("reading where it stands", partial(stood, self._writer, packaging, now))
        situation = self._memory.in_package(batch, now, events or (), heard or ())
        return self._keeper.decider.decide(
            situation, self._settings_of(batch, following.subject), contained, IN_PACKAGE
        )

    def _decide_bottle_store(self, now: datetime) -> list[AlarmChange]:
        packaged = next((one.batch for one in self._judges.all if one.batch.in_package), None)
        contained = partial(self._boundary.contained, About.SITE.of("bottle-store"))
        return self._keeper.decider.decide(self._memory.bottle_store(now, packaged), None, contained, BOTTLE_STORE)

    def _settings_of(self, batch: Batch, subject: str) -> RuleSettings:
        settings = self._settings(batch.vessel)
        if not batch.rule_settings:
            return settings
        own = partial(_own, settings, batch.rule_settings)
        return self._boundary.contained(subject, "its own settings", own) or settings

    def _tell_of_faults(self, now: datetime) -> list[AlarmChange]:
        alarms = self._keeper.decider.alarms
        subjects = {*self._boundary.subjects(), *(about for rule, about in alarms if rule == NOT_JUDGED)}
        findings = [unjudged(subject, self._boundary.reason(subject)) for subject in sorted(subjects)]
        return self._keeper.decider.absorb(findings, now)

    def _tell_of_absence(self, absence: Absence, now: datetime) -> list[AlarmChange]:
        changes = told(absence, self._judges, self._writer, self._memory, self._keeper, now)
        self._absence = absence if changes is None else None
        return changes or []

    def _kept(self, changes: list[AlarmChange], refused: list[StoreError]) -> list[AlarmChange]:
        try:
            self._keeper.keep(changes)
        except StoreError as error:
            refused.append(error)
        return changes

    def _after(self, request: Request, now: datetime) -> None:
        """What a request that was done changes in what is known; a mistake in that keeps no other from being seen."""
        self._boundary.contained(
            About.SITE.of("requests"), f"taking up {request.kind}", partial(self._take_up, request, now)
        )

    def _take_up(self, request: Request, now: datetime) -> None:
        if request.kind in ALARM_REQUESTS:
            self._keeper.reload()
            return
        if request.kind is RequestKind.IMPORT:
            if request.payload.get("last"):
                self._memory.recall(self._writer, now)
                self._judges.hear_anew(request.payload["vessel"])
            return
        before = self._judges.whereabouts()
        said_of = self._said_of(request)
        self._judges.follow(said_of)
        after = self._judges.whereabouts()
        parted = {identity for identity, vessel in before.items() if after.get(identity, identity) != vessel}
        for identity in parted:
            self._part_with(identity, before[identity], now)
        if said_of not in parted:
            self._part_with_what_left(request, now)

    def _said_of(self, request: Request) -> str | None:
        """The batch that it concerns; None where any may be."""
        if request.kind is RequestKind.VOID:
            return self._judges.of_note(request.payload["id"])
        identity: str | None = request.payload.get("id" if request.kind in BATCH_REQUESTS else "batch")
        return identity

    def _part_with_what_left(self, request: Request, now: datetime) -> None:
        """Of a request that was carried out, and whose consequences were not drawn, as a killed watcher leaves it."""
        packaged = request.kind is RequestKind.EVENT and request.payload["event"]["kind"] == EventKind.PACKAGED
        if request.kind is not RequestKind.END_BATCH and not packaged:
            return
        gone = self._writer.batch(request.payload["batch" if packaged else "id"])
        if gone is not None:
            free = self._judges.in_vessel(gone.vessel) is None
            self._part_with(gone.id, gone.vessel if free else None, now)

    def _part_with(self, identity: str, vessel: str | None, now: datetime) -> None:
        """A beer that leaves its fermenter, its package or the site takes its alarms along: the next inherits none."""
        self._keeper.retire(About.BATCH.of(identity), now)
        if vessel is not None:
            self._keeper.retire(About.FERMENTER.of(vessel), now)

    def _retire_what_is_no_more(self, now: datetime, sources: Collection[str] | None) -> None:
        """End alarms about a probe or fermenter that left the configuration, or a batch that was ended meanwhile."""
        there = {About.FERMENTER.of(vessel.slug) for vessel in self._writer.vessels()}
        there |= {About.BATCH.of(identity) for identity in self._writer.open_batches()}
        there |= {About.PROBE.of(one.probe.slug) for one in self._memory.series.values()}
        there |= {About.SOURCE.of(name) for name in sources or ()}
        kinds = {About.FERMENTER, About.BATCH, About.PROBE} | (set() if sources is None else {About.SOURCE})
        self._keeper.retire_what_is_no_more(there, kinds, now)


def _own(settings: RuleSettings, own: Mapping[str, float]) -> RuleSettings:
    """A batch's own settings; raises where a rule cannot be timed by them."""
    found = for_batch(settings, own)
    rules(found)
    return found
