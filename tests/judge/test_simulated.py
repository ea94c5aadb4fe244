"""A part of the simulated batches, one of every other scenario; `python -m tests.judge` judges more."""

from tests.judge.corpus import make
from tests.judge.grading import grade
from tests.judge.scenarios import SCENARIOS

FIRST = 700_000 - 700_000 % len(SCENARIOS)


def test_a_batch_of_every_other_scenario_is_judged_better_than_by_the_rules_of_thumb() -> None:
    places = range(0, len(SCENARIOS), 2)
    result, tally = grade((make(FIRST + place) for place in places), len(places))
    fermwatch = tally.rules["fermwatch"]
    assert result.counts["grave"] == 0, result.wrong["false_safe"]
    assert fermwatch["falling"] == 0
    assert fermwatch["false"] == 0
    assert fermwatch["said"] >= 4
    for rule in ("two probe readings 48 h apart", "two hydrometer readings 44 h apart"):
        assert fermwatch["false"] < tally.rules[rule]["false"]


def test_the_same_seed_gives_the_same_log() -> None:
    assert make(FIRST).rows == make(FIRST).rows
