"""What a screen says of the range and what the rules say of it cannot disagree, whatever is planned and known."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.contracts.feed import Freshness, Lane, ProbeView
from fermwatch.model.finding import Phase
from fermwatch.model.intent import Side, harmless
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.rules.situation import WINDOW, GoodReading, Situation
from fermwatch.rules.temperature import SIDES, outside_range
from fermwatch.saying.facts import band, out_of_range
from tests.unit.rules.situations import BATCH, MINUTE, START, judged
from tests.unit.rules.test_remedies import PLANS, declared

PROBE = Probe("left-beer", "left", Quantity.BEER_TEMPERATURE, "board", "t", Unit.CELSIUS)


@given(
    celsius=st.floats(-3.0, 40.0),
    plan=st.sampled_from(PLANS),
    phase=st.sampled_from(Phase),
    attenuation=st.sampled_from([0.1, 0.4, 0.7, 0.77]),
    age_h=st.integers(1, 400),
)
def test_a_steady_beer_is_outside_for_both_or_for_none(
    celsius: float, plan: str, phase: Phase, attenuation: float, age_h: int
) -> None:
    batch = replace(BATCH, pitched_at=START - timedelta(hours=age_h))
    judgement, events = judged(phase, apparent_attenuation=attenuation), declared(plan)
    beer = tuple(GoodReading(START - 5 * MINUTE * ago, celsius) for ago in reversed(range(WINDOW // (5 * MINUTE))))
    situation = Situation(START, "left", batch, judgement, events, beer)
    view = ProbeView(PROBE, Freshness.LIVE, celsius, START, 0.0)
    vessel = Vessel("left", "Left", 20.0)
    lane = Lane(vessel, batch, (view,), (), judgement=judgement, events=events, course=situation.course)

    on_screen, meant = out_of_range(lane, START), band(lane, START)
    assert meant is not None
    for finding in outside_range(situation, DEFAULTS):
        side = SIDES[finding.rule]
        if finding.holds and not finding.quiet_because:
            assert on_screen == side
        if on_screen == side and meant.beyond_c(side, celsius) > DEFAULTS.outside_warning_c:
            assert finding.holds
        if harmless(side, phase):
            assert on_screen != side
    assert on_screen in {"", *Side}
