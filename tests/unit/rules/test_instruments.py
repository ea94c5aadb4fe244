"""Rules about probes and the sources that they come from."""

import random
from datetime import timedelta

import pytest

from fermwatch.contracts.store import SourceState, SourceStatus
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Severity
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.rules.gravity import implausible
from fermwatch.rules.instruments import NOISY, SILENT, SOURCE_LOST, STUCK, silence, sources
from fermwatch.rules.situation import ProbeState, Situation
from fermwatch.watching.deciding import Decider
from tests.unit.rules.situations import BATCH, HOUR, LEFT, MINUTE, START, Story, steady


def probe(
    age: timedelta | None, *, lost: bool = False, flagged: str = "", kind: Quantity = Quantity.BEER_TEMPERATURE
) -> ProbeState:
    at = None if age is None else START - age
    return ProbeState("left-beer", kind, 300.0, at, flagged, "board", lost)


def told(state: ProbeState, batch: Batch | None = BATCH) -> list[tuple[bool | None, str]]:
    situation = Situation(START, "left", batch, probes=(state,))
    return [(finding.holds, finding.quiet_because or finding.told_by) for finding in silence(situation, DEFAULTS)]


def test_a_probe_is_silent_after_its_time_and_not_before() -> None:
    assert told(probe(299 * timedelta(seconds=1))) == [(False, "")]
    assert told(probe(301 * timedelta(seconds=1))) == [(True, "")]


def test_a_probe_that_was_never_heard_is_not_silent_but_unknown() -> None:
    assert told(probe(None)) == []


def test_probes_of_a_lost_source_are_quiet_since_the_source_is_told() -> None:
    assert told(probe(HOUR, lost=True)) == [(True, SOURCE_LOST)]


def test_a_float_in_the_sink_of_an_empty_fermenter_calls_nobody() -> None:
    assert told(probe(HOUR), batch=None) == [(True, "no beer is in the fermenter")]


def source(state: SourceState) -> SourceStatus:
    return SourceStatus("board", "serial-line", state, "There is no port.", START)


@pytest.mark.parametrize("state", [SourceState.UNAVAILABLE, SourceState.REFUSED])
def test_a_lost_source_and_its_twelve_probes_need_attention_once(state: SourceState) -> None:
    decider = Decider()
    probes = tuple(
        ProbeState(f"probe-{n}", Quantity.BEER_TEMPERATURE, 300.0, START, source="board", source_lost=True)
        for n in range(12)
    )
    for minutes in range(0, 60, 5):
        now = START + minutes * MINUTE
        decider.decide_sources((source(state),), now)
        decider.decide(Situation(now, "left", probes=probes))
    assert len([alarm for alarm in decider.alarms.values() if alarm.rule == SILENT and alarm.stands]) == 12
    assert [alarm.rule for alarm in decider.alarms.values() if alarm.needs_attention] == [SOURCE_LOST]


def test_a_source_that_only_starts_clears_nothing() -> None:
    decider = Decider()
    for minutes, state in ((0, SourceState.UNAVAILABLE), (5, SourceState.UNAVAILABLE), (6, SourceState.STARTING)):
        decider.decide_sources((source(state),), START + minutes * MINUTE)
    assert decider.alarms[SOURCE_LOST, "source:board"].last_known
    decider.decide_sources((source(SourceState.CONNECTED),), START + 7 * MINUTE)
    over = decider.alarms[SOURCE_LOST, "source:board"]
    assert not over.stands
    assert over.statement == "board was away or silent, and is back"  # it was named by its port


def test_a_board_that_is_there_and_says_nothing_is_to_be_looked_at() -> None:
    there = source(SourceState.CONNECTED)
    (mute,) = sources((there,), {"board": ("left-beer", "left-air", "right-beer")})
    assert mute.holds
    assert mute.statement == (
        "board is connected, and none of its probes speaks: left-beer and left-air are silent, 1 more with them"
    )
    assert mute.remedy.startswith("Look at the board's power and program.")
    (away,) = sources((source(SourceState.UNAVAILABLE),), {"board": ("left-beer", "left-air")})
    assert away.statement == "board is away: There is no port."
    assert away.remedy.startswith("Nothing that hangs on it")


def test_a_probe_that_says_the_same_for_six_hours_is_stuck() -> None:
    story = Story().go_on(7 * HOUR, steady(19.31))
    assert STUCK in story.standing()
    assert story.decider.alarms[STUCK, LEFT].severity is Severity.ADVICE
    alive = Story().go_on(7 * HOUR, lambda since: 19.31 if since % HOUR else 19.37)
    assert STUCK not in alive.standing()


def test_a_probe_that_jumps_as_beer_cannot_is_noisy_and_stays_so_when_it_falls_silent() -> None:
    chance = random.Random(3)
    story = Story().go_on(8 * HOUR, lambda _: 19.0 + chance.uniform(-3, 3))
    assert NOISY in story.standing()
    story.go_on(12 * HOUR, lambda _: None)
    assert story.decider.alarms[NOISY, LEFT].last_known


@pytest.mark.parametrize(("flagged", "holds"), [("it says 0.5, which cannot be", True), ("", False)])
def test_a_gravity_that_cannot_be_is_told(flagged: str, holds: bool) -> None:
    state = probe(MINUTE, flagged=flagged, kind=Quantity.GRAVITY)
    (finding,) = implausible(Situation(START, "left", probes=(state,)), DEFAULTS)
    assert finding.holds is holds
    assert flagged in finding.statement
