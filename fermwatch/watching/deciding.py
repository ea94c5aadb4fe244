"""From situations to changed alarms: the one place where rules and the alarms' life meet.

The same code runs live, in a replay, in tests and in the demo: it reads no clock and touches no store.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

from fermwatch.alarms.life import Transition, shift, step
from fermwatch.contracts.store import ControllerStatus, SourceStatus
from fermwatch.model.finding import NO_MORE, Alarm, Condition, Finding
from fermwatch.model.rule_settings import DEFAULTS, RuleSettings
from fermwatch.rules.catalogue import EVALUATIONS, IMMEDIATE, Evaluate, rules
from fermwatch.rules.instruments import sources
from fermwatch.rules.situation import Key, Situation

KEPT = timedelta(days=30)  # how long an alarm that is over can still be seen; the journal has it for ever


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """An alarm as it is now. `transitions` is what there is to tell; empty where only a timer or the evidence moved."""

    alarm: Alarm
    transitions: tuple[Transition, ...]
    at: datetime


Contain = Callable[[str, Callable[[], list[Finding]]], list[Finding] | None]


def _uncontained(_rule: str, work: Callable[[], list[Finding]]) -> list[Finding]:
    return work()


def _findings(evaluate: Evaluate, situation: Situation, settings: RuleSettings) -> list[Finding]:
    return list(evaluate(situation, settings))


class Decider:
    """Holds the alarms between one decision and the next; everything it knows can be stored and given back."""

    def __init__(self, settings: RuleSettings = DEFAULTS, alarms: Iterable[Alarm] = ()) -> None:
        self._settings = settings
        self.alarms: dict[Key, Alarm] = {(alarm.rule, alarm.subject): alarm for alarm in alarms}

    def decide(
        self,
        situation: Situation,
        settings: RuleSettings | None = None,
        contain: Contain = _uncontained,
        by: Sequence[Evaluate] = EVALUATIONS,
    ) -> list[AlarmChange]:
        """What changes for one fermenter, or by the rules IN_PACKAGE for a beer that has left its. `settings` are its
        own where it has any.

        contain: does the work of one rule, named; a rule that it finds at fault (None) says nothing.
        """
        settings = settings or self._settings
        known = replace(situation, standing=self.alarms)
        findings: list[Finding] = []
        for evaluate in by:
            findings += contain(evaluate.__name__, partial(_findings, evaluate, known, settings)) or ()
        return self._absorb(findings, situation.now, settings)

    def absorb(self, findings: Iterable[Finding], now: datetime) -> list[AlarmChange]:
        """What changes by findings that were made elsewhere."""
        return self._absorb(findings, now, self._settings)

    def decide_sources(
        self,
        statuses: Sequence[SourceStatus],
        now: datetime,
        mute: Mapping[str, Sequence[str]] | None = None,
        controllers: Mapping[str, ControllerStatus] | None = None,
    ) -> list[AlarmChange]:
        """What changes for the sources. mute: the probes of each that is connected and none of whose probes speaks.
        controllers: what those do that are controllers, by name.
        """
        return self._absorb(list(sources(statuses, mute or {}, controllers)), now, self._settings)

    def shift(self, by: timedelta, now: datetime) -> list[AlarmChange]:
        """The clock was set: no timer may run out by that."""
        moved = {key: shift(alarm, by) for key, alarm in self.alarms.items()}
        changes = [AlarmChange(alarm, (), now) for key, alarm in moved.items() if alarm != self.alarms[key]]
        self.alarms = moved
        return changes

    def retire(self, subject: str, now: datetime) -> list[AlarmChange]:
        """End every alarm about something that is no more, as a batch that was ended: nobody need see it now."""
        changes = []
        for key, alarm in list(self.alarms.items()):
            if alarm.subject == subject and (alarm.condition is not Condition.NORMAL or alarm.unseen):
                told = (Transition.CLEARED,) if alarm.stands else ()
                over = replace(
                    alarm,
                    condition=Condition.NORMAL,
                    since=now,
                    worse_since=None,
                    unknown_since=None,
                    last_known=False,
                    cleared_at=now if alarm.stands else alarm.cleared_at,
                    acknowledged_at=alarm.acknowledged_at or now,
                    shelved_until=None,
                    shelved_by="",
                    suppressed_by="",
                    statement=NO_MORE,
                )
                self.alarms[key] = over
                changes.append(AlarmChange(over, told, now))
        return changes

    def put(self, alarm: Alarm, now: datetime) -> list[AlarmChange]:
        """An alarm that is over as soon as it is known of."""
        self.alarms[alarm.rule, alarm.subject] = alarm
        return [AlarmChange(alarm, (Transition.CLEARED,), now)]

    def forget_long_gone(self, now: datetime) -> list[Key]:
        """Forget, and name, the alarms that have been over for a month. What a person took out of service is kept."""
        gone = [key for key, alarm in self.alarms.items() if _is_long_gone(alarm, now)]
        for key in gone:
            del self.alarms[key]
        return gone

    def _absorb(self, findings: Iterable[Finding], now: datetime, settings: RuleSettings) -> list[AlarmChange]:
        catalogue = rules(settings)
        changes = []
        for finding in findings:
            key = (finding.rule, finding.subject)
            before = self.alarms.get(key) or Alarm(finding.rule, finding.subject)
            timing = catalogue[finding.rule].timing if finding.rule in catalogue else IMMEDIATE
            after, transitions = step(before, finding, timing, now)
            if after != before:
                self.alarms[key] = after
                changes.append(AlarmChange(after, transitions, now))
        return changes


def _is_long_gone(alarm: Alarm, now: datetime) -> bool:
    over = alarm.condition is Condition.NORMAL and not alarm.kept_quiet
    ended_at = alarm.cleared_at or alarm.since
    return over and ended_at is not None and now - ended_at > KEPT
