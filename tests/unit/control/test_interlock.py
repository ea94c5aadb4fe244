"""The interlock against a relay that keeps its own record, in its own time, and is judged by that record alone."""

import random
from dataclasses import dataclass, field

import pytest

from fermwatch.control.interlock import Outputs, Times, permit
from fermwatch.model.degree import Output

HEAT, COOL = frozenset({Output.HEAT}), frozenset({Output.COOL})
BOTH, NONE = HEAT | COOL, frozenset[Output]()
TIMES = Times()


def rested(has: frozenset[Output] = BOTH) -> Outputs:
    """Nothing happened for an hour, by 0 s."""
    return Outputs(has).seen(NONE, -3600.0)


def test_what_is_not_known_counts_as_just_switched_off() -> None:
    fresh = Outputs(COOL).seen(NONE, 0.0)
    assert permit(COOL, fresh, 299.9, TIMES).on == NONE
    assert permit(COOL, fresh, 300.0, TIMES).on == COOL


def test_heat_may_have_been_on_before_we_looked() -> None:
    fresh = Outputs(BOTH).seen(NONE, 0.0)
    assert permit(COOL, fresh, 1799.0, TIMES).on == NONE
    assert permit(COOL, fresh, 1800.0, TIMES).on == COOL


def test_a_compressor_rests_after_its_device_dropped_it() -> None:
    outputs = rested().seen(COOL, 0.0).seen(NONE, 1000.0)
    assert "rests 300 s" in permit(COOL, outputs, 1299.0, TIMES).why[Output.COOL]
    assert permit(COOL, outputs, 1300.0, TIMES).on == COOL


def test_a_compressor_that_started_runs_on_whatever_is_wished() -> None:
    outputs = rested().seen(COOL, 0.0)
    for wish in (NONE, HEAT, BOTH):
        assert permit(wish, outputs, 179.0, TIMES).on == COOL
        assert permit(wish, outputs, 180.0, TIMES).on == NONE


def test_heat_needs_no_rest_and_no_shortest_run() -> None:
    outputs = rested().seen(HEAT, 0.0)
    assert permit(NONE, outputs, 1.0, TIMES).on == NONE
    assert permit(HEAT, outputs.seen(NONE, 1.0), 2.0, TIMES).on == HEAT


@pytest.mark.parametrize(("first", "then"), [(HEAT, COOL), (COOL, HEAT)])
def test_heat_and_cool_stay_apart_by_half_an_hour(first: frozenset[Output], then: frozenset[Output]) -> None:
    outputs = rested().seen(first, 0.0).seen(NONE, 600.0)
    assert permit(then, outputs, 600.0 + 1799.0, TIMES).on == NONE
    assert permit(then, outputs, 600.0 + 1800.0, TIMES).on == then


def test_out_of_sight_it_may_switch_until_it_is_seen_again() -> None:
    outputs = rested().seen(HEAT, 0.0).lost()
    assert permit(HEAT, outputs, 1.0, TIMES).on == NONE
    assert permit(COOL, outputs.seen(NONE, 100.0), 1899.0, TIMES).on == NONE
    assert permit(COOL, outputs.seen(NONE, 100.0), 1900.0, TIMES).on == COOL


def test_a_device_that_has_both_on_is_told_to_drop_both() -> None:
    assert permit(HEAT, rested().seen(BOTH, 0.0), 10.0, TIMES).on == NONE


def test_what_the_controller_does_not_have_is_never_on() -> None:
    assert permit(HEAT, rested(COOL), 0.0, TIMES).on == NONE


def test_starts_that_the_journal_tells_of_count() -> None:
    outputs = Outputs(COOL, starts_s=(-2400.0, -1800.0, -1200.0, -600.0)).seen(NONE, 0.0)
    assert "4 times" in permit(COOL, outputs, 1199.0, TIMES).why[Output.COOL]
    assert permit(COOL, outputs, 1200.0, TIMES).on == COOL


@dataclass
class Relay:
    """A device with a dead-man of 120 s. record: each change as it was: when, what was on, whether it was ordered."""

    at_s: float = 0.0
    on: frozenset[Output] = NONE
    lease_until_s: float = 0.0
    record: list[tuple[float, frozenset[Output], bool]] = field(default_factory=list)

    def wait(self, pause_s: float) -> None:
        self.at_s += pause_s
        if self.on and self.at_s >= self.lease_until_s:
            self.on = NONE
            self.record.append((self.lease_until_s, NONE, False))

    def switch(self, on: frozenset[Output]) -> None:
        self.lease_until_s = self.at_s + 120.0
        if on != self.on:
            self.on = on
            self.record.append((self.at_s, on, True))


def storm(seed: int, steps: int) -> list[tuple[float, frozenset[Output], bool]]:
    """Wishes that change at random, restarts with a new clock, a bus that is lost, a watcher that stands still."""
    chance = random.Random(seed)
    relay, clock_starts_s, wish = Relay(), 0.0, NONE
    outputs = Outputs(BOTH)
    for _ in range(steps):
        relay.wait(chance.choice((1.0, 20.0, 60.0, 119.0, 119.0, 400.0)))
        now_s = relay.at_s - clock_starts_s
        if chance.random() < 0.02:
            outputs = Outputs(BOTH, tuple(start_s - now_s for start_s in outputs.starts_s))
            clock_starts_s, now_s = relay.at_s, 0.0
        if chance.random() < 0.05:
            outputs = outputs.lost()
            continue
        if chance.random() < 0.1:
            wish = chance.choice((NONE, HEAT, COOL, COOL, BOTH))
        outputs = outputs.seen(relay.on, now_s)
        on = permit(wish, outputs, now_s, TIMES).on
        relay.switch(on)
        outputs = outputs.seen(on, now_s)
    return relay.record


@pytest.mark.parametrize("seed", range(3))
def test_no_storm_of_wishes_breaks_an_interlock(seed: int) -> None:
    off_s = {Output.HEAT: -1e9, Output.COOL: -1e9}
    on_s = dict(off_s)
    before, starts_s = NONE, list[float]()
    for at_s, on, ordered in storm(seed, 7_000):
        assert len(on) < 2
        for output in before - on:
            off_s[output] = at_s
        if Output.COOL in before - on and ordered:
            assert at_s - on_s[Output.COOL] >= TIMES.run_s
        for output in on - before:
            on_s[output] = at_s
            assert at_s - max(off_s[other] for other in Output if other is not output) >= TIMES.lockout_s
        if Output.COOL in on - before:
            assert at_s - off_s[Output.COOL] >= TIMES.rest_s
            starts_s.append(at_s)
            assert sum(at_s - start_s < 3600.0 for start_s in starts_s) <= TIMES.starts_an_hour
        before = on
    assert len(starts_s) > 50  # it did run
