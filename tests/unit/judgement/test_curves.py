import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from fermwatch.judgement.curves import Richards, Uptake, lambert_log


def column(value: float) -> NDArray[np.float64]:
    return np.array([[value]])


@given(st.floats(-400.0, 400.0))
def test_lambert_solves_its_equation(exponent: float) -> None:
    log_w = float(lambert_log(np.array([exponent]))[0])
    assert np.exp(log_w) + log_w == pytest.approx(exponent, abs=1e-9, rel=1e-12)


@given(
    st.floats(15.0, 90.0),
    st.floats(0.1, 1.5),
    st.floats(3.0, 40.0),
    st.floats(1.0, 15.0),
    st.floats(0.05, 0.5),
    st.floats(0.02, 0.2),
    st.floats(0.5, 10.0),
)
def test_uptake_inverse_gives_back_what_is_left(
    end: float, steepest: float, lag: float, half: float, seed: float, growth: float, left: float
) -> None:
    curve = Uptake(*(column(value) for value in (end, steepest, lag, half, seed, growth)))
    hours = curve.hours_until(left)
    assert end - float(curve.fallen(hours)[0, 0]) == pytest.approx(left, rel=1e-6, abs=1e-6)


@given(st.floats(15.0, 90.0), st.floats(0.1, 1.5), st.floats(5.0, 40.0), st.floats(0.05, 2.0), st.floats(0.5, 10.0))
def test_richards_inverse_gives_back_what_is_left(
    end: float, steepest: float, lag: float, shape: float, left: float
) -> None:
    curve = Richards(column(end), column(steepest), column(lag), column(shape))
    hours = curve.hours_until(left)
    assert end - float(curve.fallen(hours)[0, 0]) == pytest.approx(left, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("family", ["uptake", "richards"])
def test_a_curve_starts_at_nothing_falls_and_ends_at_its_end(family: str) -> None:
    hours = np.linspace(0.0, 2000.0, 400)
    curve: Uptake | Richards
    if family == "uptake":
        curve = Uptake(*(column(value) for value in (40.0, 0.6, 10.0, 5.0, 0.2, 0.08)))
    else:
        curve = Richards(*(column(value) for value in (40.0, 0.6, 14.0, 0.8)))
    fallen = curve.fallen(hours)[0]
    assert fallen[0] == pytest.approx(0.0, abs=0.3)
    assert np.all(np.diff(fallen) >= -1e-9)
    assert fallen[-1] == pytest.approx(40.0, abs=1e-3)


def test_uptake_agrees_with_its_differential_equation() -> None:
    """Schnell & Mendoza's closed form against Euler steps of the Michaelis-Menten equation it integrates."""
    end, steepest, half = 40.0, 0.6, 5.0
    curve = Uptake(*(column(value) for value in (end, steepest, 0.0, half, 0.999999, 0.05)))
    uptake, left, step = steepest * (1.0 + 2.0 * half / end), end, 0.01
    for hour in np.arange(0.0, 60.0, step):
        active = 1.0 / (1.0 + np.exp(-hour / 2.0))
        left -= uptake * active * left / (half + left) * step
    start = 2.0 * np.log(2.0)  # the soft corner of the lag begins with this much behind it
    head = uptake * start
    assert end - float(curve.fallen(np.array([60.0]))[0, 0]) == pytest.approx(left, abs=head)
