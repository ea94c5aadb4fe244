"""Whether anybody is watching, what is wrong with the site, and what needs a person's hands next."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.feed import InPackage, Lane, Snapshot
from fermwatch.contracts.store import SourceState, SourceStatus
from fermwatch.model.finding import Alarm, Phase
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import Quantity
from fermwatch.model.subject import About
from fermwatch.saying import words
from fermwatch.saying.facts import AlarmFacts, alarm_facts, worth_showing
from fermwatch.saying.ink import Ink
from fermwatch.saying.measured import newest
from fermwatch.saying.voice import Voice

LONGEST_ROW = 200
ROWS_NAMED = 3


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence and its colour; `mark` stands before it, so that colour is never alone."""

    text: str
    ink: Ink = Ink.PLAIN
    mark: str = ""


def watcher_words(snapshot: Snapshot, voice: Voice) -> Said:
    """The watcher's own health, in one line."""
    watcher = snapshot.watcher
    if watcher is None:
        return Said(f"nobody has watched yet: {_start(snapshot, voice)}", Ink.CRITICAL, "!!")
    since = words.moment(watcher.beat_at, snapshot.wall_now, voice)
    if watcher.stopped:
        return Said(f"the watcher was stopped {since}: {_start(snapshot, voice)}", Ink.CRITICAL, "!!")
    if snapshot.held_up:
        text = (
            f"it has written nothing since {since}: the store is locked, or its disk hangs; the watcher's log has more"
        )
        return Said(text, Ink.CRITICAL, "!!")
    if not snapshot.watched:
        return Said(f"nobody is watching since {since}: {_start(snapshot, voice)}", Ink.CRITICAL, "!!")
    if watcher.trouble:
        return Said(voice.text(watcher.trouble), Ink.CRITICAL, "!!")
    if watcher.last_commit_at is None:
        return Said(f"watching{voice.dot}{_nothing_stored(snapshot)}", Ink.FAINT)
    stored = words.ago((snapshot.now - watcher.last_commit_at).total_seconds())
    parts = ["watching", f"last stored {stored}", *_no_readings(snapshot, voice), _source_count(snapshot)]
    return Said(voice.dot.join(parts), Ink.FAINT)


def _start(snapshot: Snapshot, voice: Voice) -> str:
    """What to do, where nobody watches."""
    mend = f"mend {voice.text(snapshot.mistake)} Then " if snapshot.mistake else ""
    waits = {0: "", 1: "; what was asked since waits for it"}.get(
        snapshot.waiting, f"; {snapshot.waiting} things that were asked since wait for it"
    )
    return f"{mend}start `fermwatch watch`{waits}"


def _nothing_stored(snapshot: Snapshot) -> str:
    """What is measured by hand alone waits for no probe; and what was stored before is not nothing."""
    views = [view for lane in snapshot.lanes for view in lane.probes] + [*snapshot.stores]
    if snapshot.lanes and not views:
        return "by hand: no probe is set up"
    return "nothing stored since it started" if any(view.value is not None for view in views) else "nothing stored yet"


def _no_readings(snapshot: Snapshot, voice: Voice) -> list[str]:
    return [f"{voice.text(one.name, 20)}: {rejected_words(one)}" for one in snapshot.sources if one.rejected]


def rejected_words(source: SourceStatus) -> str:
    return "1 message was no reading" if source.rejected == 1 else f"{source.rejected} messages were no readings"


def _source_count(snapshot: Snapshot) -> str:
    connected = sum(source.state is SourceState.CONNECTED for source in snapshot.sources)
    total = len(snapshot.sources)
    if connected == total:
        return f"{total} source{'' if total == 1 else 's'} connected"
    return f"{connected} of {total} sources connected"


def of_no_lane(snapshot: Snapshot) -> tuple[Alarm, ...]:
    in_lanes = {(alarm.rule, alarm.subject) for lane in snapshot.lanes for alarm in lane.alarms}
    in_lanes |= {(alarm.rule, alarm.subject) for one in snapshot.in_package for alarm in one.alarms}
    return tuple(alarm for alarm in snapshot.alarms if (alarm.rule, alarm.subject) not in in_lanes)


def site_troubles(snapshot: Snapshot, voice: Voice) -> tuple[Said, ...]:
    """What is wrong beyond any one fermenter: sources that are away, alarms of no lane, and what cannot be read."""
    rest = of_no_lane(snapshot)
    said = [_alarm_said(alarm_facts(alarm, snapshot.now, voice)) for alarm in worth_showing(rest)]
    told = {alarm.subject for alarm in rest if alarm.stands}
    for source in snapshot.sources:
        if source.state in {SourceState.UNAVAILABLE, SourceState.REFUSED} and About.SOURCE.of(source.name) not in told:
            since = words.moment(source.since, snapshot.now, voice)
            refused = source.state is SourceState.REFUSED
            text = f"{voice.text(source.name)} is away since {since}: {voice.text(source.detail)}"
            said.append(Said(text, *((Ink.CRITICAL, "!!") if refused else (Ink.WARNING, "!"))))
    said += [Said(voice.text(one.text, LONGEST_ROW), Ink.WARNING, "!") for one in snapshot.misread[:ROWS_NAMED]]
    if more := len(snapshot.misread[ROWS_NAMED:]):
        said.append(Said(f"and {more} more that cannot be read", Ink.WARNING, "!"))
    return tuple(said)


def _alarm_said(facts: AlarmFacts) -> Said:
    remedy = f" {facts.remedy}" if facts.remedy else ""
    return Said(f"{facts.statement} {facts.state}.{remedy}", facts.ink, facts.mark)


def unseen(lane: Lane | InPackage) -> list[Alarm]:
    """What can be said to have been seen: what calls somebody, and what is over and was missed."""
    return [alarm for alarm in worth_showing(lane.alarms) if alarm.unseen]


def unseen_of_site(snapshot: Snapshot) -> list[Alarm]:
    """The same of the site: a lost source, and what belongs to no fermenter."""
    return [alarm for alarm in worth_showing(of_no_lane(snapshot)) if alarm.unseen]


@dataclass(frozen=True, slots=True)
class Task:
    """What needs a person's hands. `at` to come is when; one that is due now, or has no time, has none to say."""

    at: datetime
    text: str

    def when(self, now: datetime, voice: Voice) -> str:
        """on Tue 21:14; empty for what is due."""
        return "" if self.at <= now else words.moment(self.at, now, voice)

    def whole(self, now: datetime, voice: Voice) -> str:
        when = self.when(now, voice)
        return f"{self.text.rstrip('.')} ({when}, {words.ahead(self.at, now)})" if when else self.text


def next_hands(snapshot: Snapshot, voice: Voice) -> Task | None:
    """The next thing that needs a person's hands; a packaged beer's has its date in a line of its own."""
    due = [task for lane in snapshot.lanes if (task := _task(lane, snapshot.now, voice)) is not None]
    return min(due, key=lambda task: task.at, default=None)


def _task(lane: Lane, now: datetime, voice: Voice) -> Task | None:
    """The lane's next step: what has no time is to be done now, but for a beer that is best left alone."""
    name = voice.text(lane.vessel.name, 24)
    verdict = lane.judgement.verdict if lane.judgement is not None else None
    if lane.batch is None:
        return None
    if verdict is not None and verdict.next_steps:
        step = voice.text(verdict.next_step or verdict.next_beside)
        waits = verdict.next_at is None and verdict.next_reading_at is None and _ferments(lane.judgement)
        return None if waits else Task(verdict.next_at or now, f"{name}: {step[:1].lower()}{step[1:]}")
    if verdict is not None and verdict.next_reading_at is not None:
        return Task(verdict.next_reading_at, f"{name}: take a hydrometer reading")
    if newest(lane.probes, Quantity.GRAVITY) is None and not lane.measurements:
        return Task(now, f"{name}: enter a hydrometer reading, there is no gravity probe")
    return None


def _ferments(judgement: Judgement | None) -> bool:
    phase = judgement.phase.phase if judgement is not None and judgement.phase is not None else None
    return phase in {Phase.ACTIVE, Phase.SLOWING, Phase.RESTARTED}
