"""Rules and the life of alarms together, over days, with restarts in between."""

import random
from datetime import timedelta

import pytest

from fermwatch.model.finding import Alarm
from fermwatch.plain_data import from_text, to_text
from fermwatch.rules.temperature import HIGH
from fermwatch.watching.deciding import Decider
from tests.unit.rules.situations import HOUR, LEFT, MINUTE, Curve, Story, judged, steady


def eventful(seed: int) -> Curve:
    """Hot spells, cold spells, spikes and silences, each of some length."""
    chance = random.Random(seed)
    spells = [chance.choice([18.5, 20.9, 21.4, 21.7, 22.5, 24.0, 16.0, None]) for _ in range(40)]
    lengths = [timedelta(minutes=chance.randrange(5, 240)) for _ in spells]
    noise = [chance.gauss(0.0, 0.04) for _ in range(5000)]

    def say(since: timedelta) -> float | None:
        left = since
        for spell, length in zip(spells, lengths, strict=True):
            if left < length:
                return None if spell is None else spell + noise[since // MINUTE % len(noise)]
            left -= length
        return 19.0

    return say


class Restarted(Story):
    """Before each decision everything that is known goes through the store's codec, as after a kill."""

    def decide(self) -> None:
        known = [from_text(Alarm, to_text(alarm)) for alarm in self.decider.alarms.values()]
        self.decider = Decider(self.settings, known)
        super().decide()


@pytest.mark.parametrize("seed", range(8))
def test_a_watcher_killed_before_every_decision_says_the_same_as_one_that_never_was(seed: int) -> None:
    never, always = Story(judgement=judged()), Restarted(judgement=judged())
    for story in (never, always):
        story.go_on(48 * HOUR, eventful(seed))
    assert always.told == never.told
    assert always.decider.alarms == never.decider.alarms
    assert never.told  # something did happen


def test_what_only_moves_a_timer_changes_an_alarm_and_tells_nothing() -> None:
    story = Story().go_on(HOUR, steady(22.0))
    assert story.told == []
    assert (HIGH, LEFT) in story.decider.alarms


def test_deciding_twice_at_one_instant_says_nothing_new() -> None:
    story = Story().go_on(4 * HOUR, steady(22.5))
    told, alarms = list(story.told), dict(story.decider.alarms)
    story.decide()
    assert (story.told, story.decider.alarms) == (told, alarms)
