"""Which phase a beer is in, and what takes it to the next one."""

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby

import numpy as np
import pytest

from fermwatch.judgement import phase
from fermwatch.judgement.judge import Judge
from fermwatch.judgement.phase import PhaseMemory, settled_h, stall_reason
from fermwatch.judgement.settings import JudgeSettings
from fermwatch.judgement.stall import StallCheck
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.finding import Phase
from tests.unit.judgement.beer import Gravity, a_batch, brewed, event, fermenting, said, view_of

NO_STALL = StallCheck(stalled=False, above=-2.0, chance_above=0.0, threshold=1.0)
STALL = StallCheck(stalled=True, above=8.0, chance_above=1.0, threshold=1.0)


def walk(judge: Judge, days: float) -> list[Phase]:
    """The phases in their order, each once for as long as it lasts."""
    told = (said(judge, float(hour)).phase for hour in np.arange(3.0, days * 24.0, 3.0))
    return [kind for kind, _ in groupby(one.phase for one in told if one is not None)]


def delayed(by_h: float, gravity: Gravity) -> Gravity:
    return lambda hour: gravity(max(hour - by_h, 0.0))


def stalling(at_points: float, until_h: float) -> Gravity:
    """It stops above its end, and goes on from there after `until_h`."""
    whole, stops_h = fermenting(), next(h for h in range(1_000) if fermenting()(h) <= at_points)
    return lambda hour: whole(min(hour, stops_h)) if hour < until_h else whole(stops_h + hour - until_h)


def test_an_ordinary_beer_goes_through_the_phases_once_and_in_order() -> None:
    judge = brewed(fermenting(), 14)
    assert walk(judge, 14) == [Phase.LAG, Phase.ACTIVE, Phase.SLOWING, Phase.TERMINAL, Phase.CONDITIONING]


def test_a_beer_that_starts_days_late_is_told_and_taken_up_when_it_falls() -> None:
    judge = brewed(delayed(60.0, fermenting()), 12)
    assert [one for one in walk(judge, 12) if one is not Phase.LAG][:2] == [Phase.NOT_STARTED, Phase.ACTIVE]
    late = said(judge, 54.0).phase
    assert late is not None
    assert late.reason == "no fall 54 h after the pitch"


def test_a_beer_that_stops_above_its_range_is_stalled_and_restarts_once_it_falls() -> None:
    phases = walk(brewed(stalling(25.0, until_h=192.0), 20), 20)
    stalled = phases.index(Phase.STALLED)
    assert phases[stalled : stalled + 3] == [Phase.STALLED, Phase.RESTARTED, Phase.TERMINAL]


def test_a_bin_in_which_nothing_was_heard_changes_nothing() -> None:
    view = replace(view_of(brewed(fermenting(), 6), 140.0), measured=None)
    before = PhaseMemory(Phase.ACTIVE, since_h=30.0, steepest=12.0, stall_bins=1, falling_bins=3)
    after = phase.step(before, view, STALL)
    assert after == replace(before, stall_bins=0, falling_bins=0)


def test_one_look_that_sees_a_stall_is_none_and_two_in_a_row_are() -> None:
    view = view_of(brewed(fermenting(end=22.0), 7), 160.0)
    once = phase.step(PhaseMemory(Phase.SLOWING, steepest=20.0), view, STALL)
    assert once.phase is not Phase.STALLED
    assert phase.step(once, view, STALL).phase is Phase.STALLED
    assert phase.step(phase.step(once, view, NO_STALL), view, STALL).phase is not Phase.STALLED


def test_a_level_found_to_be_where_it_should_end_was_no_stall() -> None:
    view = view_of(brewed(fermenting(), 10), 230.0)
    stalled = PhaseMemory(Phase.STALLED, since_h=200.0, ever_stalled=True, entered_at=view.gravity)
    after = phase.step(stalled, view, NO_STALL)
    assert after.phase is Phase.TERMINAL
    assert not after.ever_stalled


def test_after_three_steady_days_it_conditions_and_its_end_stays_where_it_was() -> None:
    view = view_of(brewed(fermenting(), 12), 280.0)
    terminal = PhaseMemory(Phase.TERMINAL, since_h=view.hour - 71.0, steepest=20.0)
    assert phase.step(terminal, view, NO_STALL).phase is Phase.TERMINAL
    older = replace(terminal, since_h=view.hour - 72.0)
    after = phase.step(older, view, NO_STALL)
    assert after.phase is Phase.CONDITIONING
    assert settled_h(after) == settled_h(older) == older.since_h
    assert settled_h(PhaseMemory(Phase.ACTIVE)) is None


@pytest.mark.parametrize("memory", [PhaseMemory(), PhaseMemory(Phase.STALLED), PhaseMemory(Phase.TERMINAL)])
def test_a_packaged_beer_is_packaged_whatever_it_was(memory: PhaseMemory) -> None:
    judge = brewed(fermenting(), 12, events=[event(250.0, EventKind.PACKAGED)])
    assert phase.step(memory, view_of(judge, 270.0), NO_STALL).phase is Phase.PACKAGED


def warmth(celsius: float) -> Callable[[float], float]:
    return lambda hour: 20.0 if hour < 120.0 else celsius


def test_the_likeliest_reason_of_a_stall_is_cold_then_alcohol_then_the_yeast() -> None:
    cold = view_of(brewed(fermenting(end=22.0), 8, temperature_c=warmth(13.0)), 180.0)
    assert plain(stall_reason(cold)).startswith("too cold: it was down to 13.0 °C")
    view = view_of(brewed(fermenting(end=22.0), 8), 180.0)
    assert stall_reason(view) == "the yeast flocculated early or gave up"
    weak = replace(view, facts=replace(view.facts, alcohol_tolerance_abv=3.8))
    assert stall_reason(weak).startswith("near the yeast's alcohol tolerance: 3.")
    near = view_of(brewed(fermenting(end=15.5), 8, batch=a_batch()), 180.0)
    assert "a forced ferment test tells" in stall_reason(near)


def test_a_lager_that_stands_flat_for_weeks_has_finished_whatever_its_probe_may_hide() -> None:
    """Three warm days and a cold crash: on day 30 it was "slowing", after 20 days at the same gravity."""

    def celsius(hour: float) -> float:
        return 10.5 if hour < 216.0 else 16.5 if hour < 330.0 else max(16.5 - (hour - 330.0) / 12.0, 1.5)

    lager = replace(a_batch().yeast, temperature_low_c=9.0, temperature_high_c=12.0, bottom_fermenting=True)
    judge = brewed(slow(), 30, batch=a_batch(lager), temperature_c=celsius, settings=JudgeSettings(drift_sd=0.25))
    assert walk(judge, 30)[-2:] == [Phase.TERMINAL, Phase.CONDITIONING]


def slow() -> Gravity:
    return lambda hour: fermenting()(hour / 2.0)
