"""What the watcher remembers of the last hours, and what of it a rule gets to see."""

from datetime import timedelta

import pytest

from fermwatch.contracts.store import SourceState, SourceStatus, Writer
from fermwatch.model.reading import Flag
from fermwatch.rules.situation import ProbeState
from fermwatch.watching.memory import Memory
from tests.support.samples import NOW, reading

LEFT, GRAVITY, RIGHT = 1, 2, 3
AT_ONCE = timedelta()
HALF_AN_HOUR = timedelta(minutes=30)


@pytest.fixture
def memory(writer: Writer) -> Memory:
    found = Memory()
    found.know_the_probes(writer)
    return found


def of_left(memory: Memory, after: timedelta = AT_ONCE) -> ProbeState:
    situation = memory.situation("left", NOW + after)
    return next(one for one in situation.probes if one.slug == "left-beer")


def test_a_reading_that_comes_late_is_taken_in_and_makes_nothing_older(memory: Memory) -> None:
    for minute, celsius in ((0.0, 20.0), (-40.0, 19.0), (-20.0, 19.5)):
        memory.remember(reading(minute, celsius))
    assert [one.value for one in memory.situation("left", NOW).beer] == [19.0, 19.5, 20.0]
    assert of_left(memory).last_at == NOW
    assert of_left(memory).silent(NOW) is False


def test_what_is_not_to_be_believed_is_a_fault_of_the_probe_and_no_sample(memory: Memory) -> None:
    memory.remember(reading(-1, 19.0))
    memory.remember(reading(0, 85.0, flags=Flag.POWER_ON_CODE))
    assert "measured nothing" in of_left(memory).flagged
    assert [one.value for one in memory.situation("left", NOW).beer] == [19.0]


def test_a_jump_is_no_fault_that_anybody_is_called_for(memory: Memory) -> None:
    """It is a glitch, and over with the next reading, or a new place of the probe, and soon believed."""
    memory.remember(reading(0, 40.0, flags=Flag.JUMP))
    assert of_left(memory).flagged == ""
    assert memory.situation("left", NOW).beer == ()


def test_a_source_is_mute_when_all_of_its_probes_are_silent_and_it_has_two(memory: Memory) -> None:
    memory.remember(reading(0, series=LEFT))
    memory.remember(reading(0, 1.040, series=GRAVITY))  # from another source, alone on it
    assert memory.mute(NOW + timedelta(days=1)) == {}, "one silent probe may be its own cause"
    memory.remember(reading(25, series=RIGHT))
    assert memory.mute(NOW + HALF_AN_HOUR) == {}
    later = NOW + 2 * HALF_AN_HOUR
    assert memory.mute(later) == {"board": ("left-beer", "right-beer")}
    assert memory.mute(later, {"left"}) == {"board": ("left-beer", "right-beer")}
    assert memory.mute(later, set()) == {}


@pytest.mark.parametrize(
    ("state", "since", "lost"),
    [
        (SourceState.UNAVAILABLE, AT_ONCE, True),
        (SourceState.REFUSED, AT_ONCE, True),
        (SourceState.CONNECTED, HALF_AN_HOUR, True),  # just back: it has had no time to speak
        (SourceState.CONNECTED, -HALF_AN_HOUR, False),
    ],
)
def test_silence_is_its_sources_while_that_is_away_or_only_just_back(
    memory: Memory, state: SourceState, since: timedelta, lost: bool
) -> None:
    memory.remember(reading(0))
    memory.remember(reading(29, series=RIGHT))  # so that the source is not mute
    memory.sources["board"] = SourceStatus("board", "serial-line", state, "", NOW + since)
    probe = of_left(memory, HALF_AN_HOUR + timedelta(seconds=30))
    assert probe.silent(NOW + HALF_AN_HOUR)
    assert probe.source_lost is lost
