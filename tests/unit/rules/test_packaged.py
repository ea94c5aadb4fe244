"""Rules about beer in its package."""

import pytest

from fermwatch.model.batch import EventKind
from fermwatch.model.finding import Phase
from fermwatch.rules.packaged import CONDITIONING, PAST_BEST, READY
from tests.unit.rules.situations import DAY, HOUR, Story, event, judged, steady

PACKAGED = (event(EventKind.PACKAGED),)
SUBJECT = "batch:one"


def test_nothing_is_said_of_beer_that_is_not_packaged() -> None:
    story = Story().go_on(DAY, steady(10.0))
    assert not {CONDITIONING, READY, PAST_BEST} & {rule for rule, _ in story.decider.alarms}


@pytest.mark.parametrize(
    ("celsius", "told", "words"), [(12.0, True, "too cold"), (30.0, True, "too warm"), (21.0, False, "")]
)
def test_bottles_want_warmth_while_they_condition(celsius: float, told: bool, words: str) -> None:
    story = Story(judgement=judged(Phase.PACKAGED), events=PACKAGED).go_on(12 * HOUR, steady(celsius))
    assert (CONDITIONING in story.standing()) is told
    if told:
        assert words in story.decider.alarms[CONDITIONING, SUBJECT].statement


def test_that_ends_with_the_days_of_conditioning() -> None:
    story = Story(judgement=judged(Phase.PACKAGED), events=PACKAGED, every=HOUR).go_on(13 * DAY, steady(12.0))
    assert story.standing() == {CONDITIONING}
    story.go_on(3 * DAY, steady(12.0))
    assert story.standing() == {READY}


def test_it_is_ready_and_later_past_its_best() -> None:
    story = Story(judgement=judged(Phase.PACKAGED), events=PACKAGED, every=6 * HOUR).go_on(119 * DAY, steady(20.0))
    assert story.standing() == {READY}
    assert story.go_on(2 * DAY, steady(20.0)).standing() == {PAST_BEST}
