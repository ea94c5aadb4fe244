"""Where a target may lie. The figures are common practice, of the project's own brief on brewing: no outside source."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.control.limits import limits, within
from fermwatch.model.batch import EventKind
from fermwatch.model.intent import Band
from fermwatch.model.yeast import Yeast

WIDE = Band(-1.0, 40.0)
MEANT = st.sampled_from([None, EventKind.REST, EventKind.RAMP, EventKind.CRASH])


def yeast(low_c: float, high_c: float) -> Yeast:
    return Yeast("ale", "an invented yeast", low_c, high_c, 0.72, 0.8)


def edges(band: Band | None) -> tuple[float, float] | None:
    return None if band is None else (band.low_c, band.high_c)


@pytest.mark.parametrize(
    ("meant", "of_yeast", "expected"),
    [
        (None, (18.0, 22.0), (18.0, 22.0)),
        (EventKind.REST, (18.0, 22.0), (18.0, 22.0)),
        (EventKind.REST, (9.0, 12.0), (9.0, 18.0)),
        (EventKind.RAMP, (15.0, 18.0), (15.0, 22.0)),
        (EventKind.REST, (30.0, 36.0), (30.0, 36.0)),
        (EventKind.CRASH, (18.0, 22.0), (-0.5, 5.0)),
    ],
)
def test_limits_belong_to_what_is_meant(
    meant: EventKind | None, of_yeast: tuple[float, float], expected: tuple[float, float]
) -> None:
    assert edges(limits(meant, yeast(*of_yeast), WIDE, crash_permitted=True)) == expected


def test_a_crash_that_nothing_permits_has_no_limits() -> None:
    assert limits(EventKind.CRASH, yeast(18.0, 22.0), WIDE, crash_permitted=False) is None


def test_where_yeast_and_user_exclude_each_other_nothing_may_be_written() -> None:
    assert limits(None, yeast(30.0, 36.0), Band(10.0, 25.0), crash_permitted=False) is None


@pytest.mark.parametrize("edge_c", [math.nan, math.inf, -math.inf])
def test_limits_of_the_user_that_are_none_let_nothing_pass(edge_c: float) -> None:
    for allowed in (Band(edge_c, 25.0), Band(10.0, edge_c)):
        with pytest.raises(ValueError, match="finite"):
            limits(None, yeast(18.0, 22.0), allowed, crash_permitted=False)


def test_an_event_that_means_no_temperature_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="no temperature"):
        limits(EventKind.PACKAGED, yeast(18.0, 22.0), WIDE, crash_permitted=False)


@given(meant=MEANT, low_c=st.floats(-2, 30), width_c=st.floats(0, 20), target_c=st.floats(), permitted=st.booleans())
def test_nothing_outside_the_users_limits_is_ever_within(
    meant: EventKind | None, low_c: float, width_c: float, target_c: float, permitted: bool
) -> None:
    allowed = Band(low_c, low_c + width_c)
    band = limits(meant, yeast(18.0, 22.0), allowed, crash_permitted=permitted)
    if band is not None:
        assert allowed.low_c <= band.low_c <= band.high_c <= allowed.high_c
        assert not within(target_c, band) or allowed.low_c <= target_c <= allowed.high_c
