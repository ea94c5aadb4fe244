"""Every rule of the catalogue is evaluated by something, and no other is; the PAGE says when each speaks."""

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from fermwatch.contracts.store import SourceState, SourceStatus
from fermwatch.model.batch import Event, EventKind, PackageChoice
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Verdict
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.model.telling import NotifierStatus
from fermwatch.rules.catalogue import BOTTLE_STORE, EVALUATIONS, IN_PACKAGE, rules
from fermwatch.rules.controlled import not_written
from fermwatch.rules.instruments import sources
from fermwatch.rules.notifying import cannot_notify
from fermwatch.rules.situation import ProbeState, Situation
from fermwatch.rules.unjudged import unjudged
from fermwatch.rules.unwatched import unwatched
from fermwatch.saying.words import RULE_WORDS
from tests.unit.rules.situations import BATCH, START, judged

PAGE = Path(__file__).resolve().parents[3] / "docs" / "alarms.md"


def test_the_readme_says_when_each_rule_speaks() -> None:
    section = PAGE.read_text(encoding="utf-8")
    first_cells = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    named = [name for cell in first_cells for name in re.findall(r"`([a-z-]+)`", cell)]
    assert sorted(named) == sorted(rules(DEFAULTS))


def test_every_rule_of_the_catalogue_is_evaluated_and_no_other() -> None:
    """Of a situation in which each has something to say, though it be that it does not hold."""
    probes = tuple(ProbeState(f"left-{one}", one, 300.0, START) for one in Quantity)
    judgement = replace(
        judged(probe_drift_points_per_day=0.1, probe_drift_sd_points_per_day=0.1),
        verdict=Verdict(VerdictKind.NOT_YET, START),
    )
    packaged = Event("p", START, EventKind.PACKAGED, {"package": "pet", "sugar": "sucrose", "sugar_g_per_l": 6.0})
    batch = replace(BATCH, package=PackageChoice("pet", 2.4, 25.0))
    there = Situation(START, "left", batch, judgement, (packaged,), probes=probes)
    evaluated = {
        finding.rule for evaluate in (*EVALUATIONS, *IN_PACKAGE, *BOTTLE_STORE) for finding in evaluate(there, DEFAULTS)
    }
    elsewhere = [*sources([SourceStatus("a", "mqtt", SourceState.CONNECTED, "", START)], {}), unjudged("batch:b", "")]
    elsewhere.append(not_written("left", "fridge", "", given_up=False))
    elsewhere.append(unwatched(timedelta(hours=6), []))
    elsewhere.append(cannot_notify(NotifierStatus("phone", "command", START)))
    assert evaluated | {one.rule for one in elsewhere} == set(rules(DEFAULTS))


def test_nothing_is_called_by_a_name_of_its_own_that_is_no_rule() -> None:
    assert set(RULE_WORDS) <= set(rules(DEFAULTS))
