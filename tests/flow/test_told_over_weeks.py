"""How often people are told of whole ferments: logs of weeks, replayed through rules and alarms, in log time."""

import itertools
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from fermwatch.model.batch import Batch, Event
from fermwatch.model.finding import Severity
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.model.telling import NotifierStatus, Told, Why
from fermwatch.notify.due import Due, Key, Matter, due
from fermwatch.notify.hours import Hours
from fermwatch.replaying.input import read_batch, read_log
from fermwatch.replaying.replay import Replay
from fermwatch.rules.catalogue import rules
from tests.reference.judgement import score

LOGS = Path(__file__).parents[1] / "reference" / "judgement" / "logs"
LABELS = {one["file"]: one for one in json.loads((LOGS / "labels.json").read_text(encoding="utf-8"))["logs"]}
HOURS = Hours()


class Heard(Replay):
    """With somebody who is told, and sees to nothing."""

    def __init__(self, batch: Batch, events: tuple[Event, ...]) -> None:
        super().__init__(batch, events)
        self._status = NotifierStatus("phone", "command", batch.pitched_at)
        self._known: dict[Key, Told] = {}
        self.told: list[tuple[datetime, tuple[Due, ...]]] = []

    def _tick(self, now: datetime) -> Iterator[dict[str, Any]]:
        yield from super()._tick(now)
        catalogue = rules(DEFAULTS)
        matters = [Matter(one, catalogue[one.rule].speaks) for one in self._decider.alarms.values()]
        found = due(matters, self._known, self._status, now, HOURS)
        if HOURS.digest_is_due(self._status.digest_at or self._status.since, now):
            self._status = replace(self._status, digest_at=now)
        if found:
            self._status = replace(self._status, told_at=now)
            self._known |= {(one.alarm.rule, one.alarm.subject): one.told("phone", "m", now) for one in found}
            self.told.append((now, found))


def heard(name: str, folder: Path) -> list[tuple[datetime, tuple[Due, ...]]]:
    toml = folder / "batch.toml"
    toml.write_text(score.batch_toml(LABELS[name]), encoding="utf-8")
    course = Heard(*read_batch(toml))
    for row in read_log(LOGS / name):
        for _ in course.take(row):
            pass
    return course.told


@pytest.mark.parametrize("name", ["example02.csv", "example05.csv"])
def test_four_weeks_in_which_all_goes_well_are_three_messages_at_most(name: str, tmp_path: Path) -> None:
    told = heard(name, tmp_path)
    assert 1 <= len(told) <= 3
    assert all(not HOURS.is_night(at) for at, _ in told)


def test_a_beer_that_freezes_its_yeast_is_told_the_same_hour_and_then_less_and_less(tmp_path: Path) -> None:
    told = heard("example06.csv", tmp_path)
    cold = [(at, one) for at, parts in told for one in parts if one.alarm.rule == "temperature-low"]
    at, first = cold[0]
    assert (first.why, first.alarm.severity) == (Why.BEGAN, Severity.CRITICAL)
    assert first.alarm.raised_at is not None
    assert (at - first.alarm.raised_at).total_seconds() < 3600
    gaps = [later[0] - earlier[0] for earlier, later in itertools.pairwise(cold)]
    assert gaps == sorted(gaps)
    assert "stalled" in {one.alarm.rule for _, parts in told for one in parts}
    assert len(told) <= 14
