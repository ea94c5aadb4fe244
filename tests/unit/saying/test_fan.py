"""The forecast drawn as a way through time says the forecast's own numbers, and nothing beyond them."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Forecast, Judgement
from fermwatch.saying.fan import fan_of
from tests.dashboard.snapshots import NOW, healthy

JUDGED = healthy().judgement
HOUR = timedelta(hours=1)


def judged(**forecast: object) -> Judgement:
    assert JUDGED is not None
    assert JUDGED.forecast is not None
    return replace(JUDGED, forecast=replace(JUDGED.forecast, **forecast))  # type: ignore[arg-type]


def test_it_is_at_its_end_when_the_forecast_says_done() -> None:
    """So that the mark of that instant and the cursor on it say one number."""
    judgement = judged()
    forecast, fan = judgement.forecast, fan_of(judgement)
    assert isinstance(forecast, Forecast)
    assert fan is not None
    assert forecast.done_at is not None
    assert forecast.done_high is not None
    assert fan.at(forecast.done_at)[1] == forecast.terminal_sg
    assert fan.at(forecast.done_at - HOUR)[1] > forecast.terminal_sg
    assert fan.at(forecast.done_high)[2] == pytest.approx(forecast.high_sg)
    assert fan.at(NOW) == pytest.approx((1.024, 1.024, 1.024))
    assert fan.end == forecast.done_high


@given(st.floats(0.001, 0.999))
def test_it_reaches_a_gravity_when_it_is_drawn_there(share: float) -> None:
    fan = fan_of(judged())
    assert fan is not None
    assert fan.most.done_at is not None
    at = fan.start + share * (fan.most.done_at - fan.start)
    reached = fan.most.reaches(fan.at(at)[1], fan.start, fan.from_sg)
    assert reached is not None
    assert abs(reached - at) < timedelta(minutes=1)
    assert fan.most.reaches(fan.most.end_sg, fan.start, fan.from_sg) is None


@given(
    st.floats(0.0, 400.0), st.floats(0.1, 100.0), st.floats(0.990, 1.023), st.floats(0.0, 0.01), st.floats(0.0, 0.01)
)
def test_it_only_falls_and_never_leaves_its_bounds(
    hours: float, step: float, most: float, below: float, above: float
) -> None:
    fan = fan_of(judged(terminal_sg=most, low_sg=most - below, high_sg=most + above))
    assert fan is not None
    first, then = fan.at(NOW + hours * HOUR), fan.at(NOW + (hours + step) * HOUR)
    assert first[0] <= first[1] <= first[2]
    assert then[1] <= first[1] + 1e-12
    assert then[0] >= most - below - 1e-12


@pytest.mark.parametrize(
    "judgement",
    [
        None,
        replace(judged(), forecast=None),
        replace(judged(), trend=None),
        judged(done_at=None),
        replace(judged(), phase=replace(judged().phase, phase=Phase.STALLED)),  # type: ignore[type-var]
    ],
)
def test_where_nobody_can_say_there_is_none(judgement: Judgement | None) -> None:
    assert fan_of(judgement) is None
