"""What the watcher knows and does, step by step, in the one thread that writes: take readings, attend to what people
ask, judge and decide. It waits for nothing and reads no clock, so that tests and the demo drive it at any speed.
"""

import logging
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.clock import from_ms
from fermwatch.contracts.inbox import Inbox, Outcome, OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Appended, JournalEntry, Series, SourceState, SourceStatus, Writer
from fermwatch.deciding import Change, Decider
from fermwatch.following import Calibrations, follow, is_good, judged_series, tell
from fermwatch.ingest.pipeline import Intake
from fermwatch.ingest.screening import in_words
from fermwatch.judgement.judge import Judge
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Reading
from fermwatch.model.rule_settings import DEFAULTS, RuleSettings, for_batch
from fermwatch.rules.situation import WINDOW, Key, ProbeState, Sample, Situation

log = logging.getLogger("fermwatch")

ALARM_REQUESTS = {RequestKind.ACKNOWLEDGE, RequestKind.SHELVE, RequestKind.UNSHELVE, RequestKind.SERVICE}


@dataclass(slots=True)
class Following:
    """An open batch and its judge."""

    batch: Batch
    judge: Judge
    saved: Judgement | None = None


class Logbook:
    """The store, the inbox, the alarms and the judges of one site."""

    def __init__(
        self,
        writer: Writer,
        inbox: Inbox,
        settings: Callable[[str], RuleSettings] = lambda _: DEFAULTS,
        make_judge: Callable[[Batch], Judge] = Judge,
    ) -> None:
        self._writer, self._inbox, self._settings, self._make_judge = writer, inbox, settings, make_judge
        self._decider = Decider(alarms=writer.alarms())
        self._series: dict[int, Series] = {}
        self._calibrations = Calibrations(())
        self._recent: dict[int, list[Sample]] = {}
        self._newest: dict[int, Reading] = {}
        self._following: dict[str, Following] = {}
        self._sources: dict[str, SourceStatus] = {}
        self._unsaved_alarms: dict[Key, Alarm] = {}
        self._unsaved_entries: list[JournalEntry] = []

    def begin(self, now: datetime) -> None:
        """Read back what is needed to go on as if never interrupted."""
        self._series = {one.series: one for one in self._writer.series()}
        self._calibrations = Calibrations(self._writer.bindings())
        for number in self._series:
            for reading in self._writer.readings(number, now - WINDOW, now + timedelta(days=1)):
                self._remember(reading)
        for number, latest in self._writer.latest().items():
            if number in self._series and not latest.last_known and number not in self._newest:
                at_ms = round(latest.at.timestamp() * 1000)
                self._newest[number] = Reading(number, at_ms, latest.value, flags=latest.flags)
        self._follow_batches(now)
        self._retire_what_is_no_more(now)

    def take(self, intake: Intake) -> Appended:
        """Commit readings, then let the judges hear them. StoreError where they could not be committed."""
        if intake.last_known:  # first, since done twice it is done once, and readings are not
            self._writer.set_last_known(intake.last_known)
        appended = self._writer.append(intake.readings) if intake.readings else Appended(0, 0)
        for reading in intake.readings:
            if reading.series in self._series:
                self._tell_of_flag(reading)
                self._remember(reading)
                self._let_judges_hear(reading)
        return appended

    def note_source(self, status: SourceStatus) -> None:
        """How a source does; a change of state is written into the journal."""
        before = self._sources.get(status.name)
        self._sources[status.name] = status
        self._writer.set_source(status)
        if before is None or before.state is not status.state:
            text = f"{status.state}: {status.detail}"
            self._writer.enter([JournalEntry(status.since, "source", status.name, text)])

    def clock_was_set(self, by: timedelta, now: datetime) -> None:
        """What is remembered moves along, so that a jump of the clock is neither silence nor a timer that ran out."""
        for number, samples in self._recent.items():
            self._recent[number] = [Sample(one.at + by, one.value) for one in samples]
        milliseconds = by // timedelta(milliseconds=1)
        for number, newest in self._newest.items():
            self._newest[number] = replace(newest, at_ms=newest.at_ms + milliseconds)
        text = f"the machine's clock was set by {by.total_seconds():+.0f} s"
        log.warning("%s", text)
        self._unsaved_entries.append(JournalEntry(now, "watcher", "clock", text))
        self._keep(self._decider.shift(by, now))

    def attend(self, now: datetime) -> list[Outcome]:
        """Carry out what people asked, oldest first; each exactly once, each with an outcome."""
        outcomes = []
        for request in self._inbox.waiting():
            self._keep(())  # what the store still lacks of the alarms, before a request changes them there
            outcome = self._writer.apply(request, now)
            outcomes.append(outcome)
            log.info("%s by %s: %s %s", request.kind, request.user, outcome.state, outcome.reason)
            if outcome.state is OutcomeState.DONE:
                self._after(request, now)
            # Last, so that a request whose consequences were not drawn is seen again: applied twice, it is done once.
            self._inbox.drop(request.id)
        return outcomes

    def decide(self, now: datetime) -> list[Change]:
        """Judge every batch, evaluate every rule, keep what changed."""
        changes = self._decider.decide_sources(tuple(self._sources.values()), now)
        judged = {following.batch.vessel: self._judge(following, now) for following in self._following.values()}
        for vessel in self._writer.vessels():
            situation = self._situation(vessel.slug, judged.get(vessel.slug), now)
            settings = self._settings(vessel.slug)
            if situation.batch is not None and situation.batch.rule_settings:
                settings = for_batch(settings, situation.batch.rule_settings)
            changes += self._decider.decide(situation, settings)
        self._keep(changes)
        return changes

    def _judge(self, following: Following, now: datetime) -> Judgement:
        judgement = following.judge.judge_at_once(now)
        if judgement != following.saved:
            self._writer.save_judgement(following.batch.id, judgement)
            following.saved = judgement
        return judgement

    def _keep(self, changes: Sequence[Change]) -> None:
        """Store what changed. What a full disk refuses is kept in mind and stored with the next change."""
        entries = [
            JournalEntry(change.at, "alarm", change.alarm.subject, _told(change))
            for change in changes
            if change.transitions
        ]
        for entry in entries:
            log.warning("%s: %s", entry.subject, plain(entry.text))
        self._unsaved_alarms |= {(change.alarm.rule, change.alarm.subject): change.alarm for change in changes}
        self._unsaved_entries += entries
        if self._unsaved_alarms or self._unsaved_entries:
            self._writer.save_alarms(tuple(self._unsaved_alarms.values()), self._unsaved_entries)
            self._unsaved_alarms, self._unsaved_entries = {}, []

    def _situation(self, vessel: str, judgement: Judgement | None, now: datetime) -> Situation:
        batch = next((one.batch for one in self._following.values() if one.batch.vessel == vessel), None)
        numbers = [number for number in self._series if self._series[number].probe.vessel == vessel]
        return Situation(
            now=now,
            vessel=vessel,
            batch=batch,
            judgement=judgement,
            events=self._writer.events(batch.id) if batch is not None else (),
            beer=self._samples(numbers, Quantity.BEER_TEMPERATURE, now),
            set_point=self._samples(numbers, Quantity.SET_POINT, now),
            output=self._samples(numbers, Quantity.OUTPUT, now),
            probes=tuple(self._probe_state(number) for number in numbers),
        )

    def _samples(self, numbers: Sequence[int], quantity: Quantity, now: datetime) -> tuple[Sample, ...]:
        """The window's good samples of one quantity; where several probes measure it, of the first that was heard."""
        for number in numbers:
            if self._series[number].probe.quantity is quantity:
                samples = tuple(one for one in self._recent.get(number, ()) if now - WINDOW < one.at <= now)
                if samples:
                    return samples
        return ()

    def _probe_state(self, number: int) -> ProbeState:
        probe, newest = self._series[number].probe, self._newest.get(number)
        source = self._sources.get(probe.source)
        lost = source is not None and source.state in {SourceState.UNAVAILABLE, SourceState.REFUSED}
        return ProbeState(
            slug=probe.slug,
            quantity=probe.quantity,
            silent_after_s=probe.silent_after_s,
            last_at=None if newest is None else from_ms(newest.at_ms),
            flagged="" if newest is None else in_words(newest.flags, newest.value),
            source=probe.source,
            source_lost=lost,
        )

    def _remember(self, reading: Reading) -> None:
        newest = self._newest.get(reading.series)
        if newest is None or reading.at_ms >= newest.at_ms:
            self._newest[reading.series] = reading
        if not is_good(reading):
            return
        samples = self._recent.setdefault(reading.series, [])
        sample = Sample(from_ms(reading.at_ms), self._calibrations.calibrated(reading))
        samples.insert(bisect_right(samples, sample.at, key=lambda one: one.at), sample)
        if len(samples) > 64 and samples[-1].at - samples[0].at > 2 * WINDOW:
            del samples[: bisect_right(samples, samples[-1].at - WINDOW, key=lambda one: one.at)]

    def _tell_of_flag(self, reading: Reading) -> None:
        """What is not to be believed is said once, when it begins."""
        before = self._newest.get(reading.series)
        why = in_words(reading.flags, reading.value)
        if why and (before is None or not in_words(before.flags, before.value)):
            slug = self._series[reading.series].probe.slug
            log.warning("%s: %s; it is kept, and not judged by. Check the probe's wiring and unit.", slug, why)

    def _let_judges_hear(self, reading: Reading) -> None:
        probe = self._series[reading.series].probe
        if not is_good(reading) or reading.series != judged_series(self._series, probe.vessel, probe.quantity):
            return
        for following in self._following.values():
            if following.batch.vessel == probe.vessel:
                tell(following.judge, probe.quantity, reading, self._calibrations)

    def _after(self, request: Request, now: datetime) -> None:
        if request.kind in ALARM_REQUESTS:
            self._decider = Decider(alarms=self._writer.alarms())
        else:
            self._follow_batches(now)
        if request.kind is RequestKind.END_BATCH:
            self._keep(self._decider.retire(f"batch:{request.payload['id']}", now))
            ended = next((one for one in self._writer.batches(ended=True) if one.id == request.payload["id"]), None)
            if ended is not None:  # the next beer in it does not inherit its alarms
                self._keep(self._decider.retire(f"vessel:{ended.vessel}", now))

    def _retire_what_is_no_more(self, now: datetime) -> None:
        """End alarms about a probe or fermenter that left the configuration, or a batch that was ended meanwhile."""
        probes = [one.probe for one in self._series.values()]
        there = {f"vessel:{vessel.slug}" for vessel in self._writer.vessels()}
        there |= {f"batch:{identity}" for identity in self._following}
        there |= {f"probe:{probe.slug}" for probe in probes} | {f"source:{probe.source}" for probe in probes}
        for subject in {alarm.subject for alarm in self._decider.alarms.values()} - there:
            self._keep(self._decider.retire(subject, now))

    def _follow_batches(self, now: datetime) -> None:
        """A judge for each open batch, told all of its history anew: a word or two changes little, and seldom."""
        self._following = {batch.id: self._follow(batch, now) for batch in self._writer.batches()}

    def _follow(self, batch: Batch, now: datetime) -> Following:
        return Following(batch, follow(self._writer, batch, now, self._make_judge), self._writer.judgement(batch.id))


def _told(change: Change) -> str:
    alarm = change.alarm
    what = ", ".join(change.transitions)
    return f"{alarm.rule} {what} ({alarm.severity}): {alarm.statement}"
