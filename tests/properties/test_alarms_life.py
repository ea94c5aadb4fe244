"""An alarm under anything that may happen to it, and its rules under noise."""

import random
from collections import deque
from datetime import UTC, datetime, timedelta

from hypothesis import settings as run
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from fermwatch.alarms.life import Transition, step
from fermwatch.errors import RequestRefused
from fermwatch.model.attention import acknowledge, set_service, shelve, unshelve
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Alarm, Condition, Finding, Severity, Timing
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.plain_data import from_text, to_text
from fermwatch.rules.situation import GoodReading, Situation
from fermwatch.watching.deciding import Decider
from tests.support.running import ALE

START = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
TIMING = Timing(timedelta(minutes=30), timedelta(minutes=15), timedelta(minutes=5))
UNRAISED = Alarm("temperature-high", "vessel:left")


class AlarmLife(RuleBasedStateMachine):
    """Findings, people and restarts in any order."""

    def __init__(self) -> None:
        super().__init__()
        self.alarm = UNRAISED
        self.now = START
        self.told: list[Transition] = []

    @rule(
        holds=st.sampled_from([True, False, None]),
        severity=st.sampled_from(list(Severity)),
        quiet=st.sampled_from(["", "planned crash"]),
        seconds=st.integers(0, 3600),
    )
    def evaluate(self, holds: bool | None, severity: Severity, quiet: str, seconds: int) -> None:
        before = self.alarm
        self.now += timedelta(seconds=seconds)
        said = Finding(before.rule, before.subject, holds=holds, severity=severity, quiet_because=quiet)
        self.alarm, told = step(before, said, TIMING, self.now)
        self.told += told
        if holds is None:
            assert self.alarm.condition is before.condition
            assert not {Transition.RAISED, Transition.CLEARED, Transition.ESCALATED} & set(told)
        assert (self.alarm.occurrence - before.occurrence) == told.count(Transition.RAISED)
        if Transition.ESCALATED in told or Transition.RAISED in told:
            assert self.alarm.acknowledged_at is None

    @rule()
    def restart(self) -> None:
        self.alarm = from_text(Alarm, to_text(self.alarm))

    @rule()
    def somebody_sees_it(self) -> None:
        try:
            self.alarm = acknowledge(self.alarm, "ada", self.now)
        except RequestRefused:
            assert self.alarm.occurrence == 0 or self.alarm.acknowledged_at is not None

    @rule(hours=st.integers(1, 24))
    def somebody_shelves_it(self, hours: int) -> None:
        self.alarm = shelve(self.alarm, self.now + timedelta(hours=hours), "ada", self.now)

    @precondition(lambda self: self.alarm.shelved_until is not None)
    @rule()
    def somebody_takes_it_off_the_shelf(self) -> None:
        self.alarm = unshelve(self.alarm)

    @rule(out=st.booleans())
    def somebody_takes_it_out_of_service(self, out: bool) -> None:
        self.alarm = set_service(self.alarm, "ada", self.now, out=out)

    @invariant()
    def it_is_in_a_state_that_can_be(self) -> None:
        alarm = self.alarm
        assert alarm.condition in Condition
        assert (alarm.condition in {Condition.PENDING, Condition.CLEARING}) <= (alarm.since is not None)
        assert alarm.stands <= (alarm.occurrence > 0 and alarm.raised_at is not None)
        if alarm.stands and alarm.cleared_at is not None:
            assert alarm.cleared_at <= (alarm.raised_at or START)  # when it was last over
        assert alarm.last_known <= alarm.stands
        assert (alarm.unknown_since is not None) <= (alarm.condition is not Condition.NORMAL)
        assert (alarm.acknowledged_at is None) == (alarm.acknowledged_by == "")

    @invariant()
    def what_was_told_leads_to_the_same_state(self) -> None:
        stands, last_known, occurrence = False, False, 0
        for transition in self.told:
            if transition is Transition.RAISED:
                assert not stands
                stands, occurrence = True, occurrence + 1
            elif transition is Transition.CLEARED:
                assert stands
                stands = False
            else:
                assert stands
                last_known = {Transition.STALE: True, Transition.FRESH: False}.get(transition, last_known)
        assert (stands, last_known, occurrence) == (self.alarm.stands, self.alarm.last_known, self.alarm.occurrence)


TestAlarmLife = AlarmLife.TestCase
TestAlarmLife.settings = run(max_examples=200, stateful_step_count=30, deadline=None)


def activations(rules: RuleSettings, *, smoothed: bool) -> int:
    """How often a temperature alarm is raised in 24 h of ±0.05 K noise about the limit, one reading a minute.

    smoothed: judged by the median of the last hour, as always, or by the newest reading alone.
    """
    chance = random.Random(7)
    batch = Batch("one", "Invented ale", "left", 1.050, START - timedelta(days=2), 19.0, ALE)
    limit_c = ALE.temperature_high_c + rules.outside_warning_c
    decider = Decider(rules)
    raised, beer = 0, deque[GoodReading](maxlen=60 if smoothed else 1)
    for minute in range(24 * 60):
        now = START + timedelta(minutes=minute)
        beer.append(GoodReading(now, limit_c + chance.uniform(-0.05, 0.05)))
        for change in decider.decide(Situation(now, "left", batch, beer=tuple(beer))):
            raised += change.alarm.rule == "temperature-high" and Transition.RAISED in change.transitions
    return raised


def test_noise_about_the_limit_raises_at_most_one_alarm_a_day() -> None:
    assert activations(RuleSettings(), smoothed=True) <= 1


def test_without_median_deadband_and_delays_it_would_raise_more_than_a_hundred() -> None:
    naked = RuleSettings(outside_clears_c=0.5, outside_warning_h=0.0, outside_clears_min=0.0, outside_critical_min=0.0)
    assert activations(naked, smoothed=False) > 100
