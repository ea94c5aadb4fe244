"""Where a beer is expected to end: by its yeast's range, and by the brewer's own earlier batches."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.judgement import ends
from fermwatch.judgement.ends import OwnEnd, density_of, expected_ends, mean_of, own_words

LOW, HIGH = 0.72, 0.80
MIDDLE = (LOW + HIGH) / 2.0
SPREADS = st.floats(0.004, 0.05)


def own(*attenuations: float, sd: float = 0.015) -> tuple[OwnEnd, ...]:
    return tuple(OwnEnd(one, sd, one - MIDDLE) for one in attenuations)


def spread_of(found: tuple[ends.End, ...]) -> float:
    mean = mean_of(found)
    return math.sqrt(sum(end.share * (end.sd**2 + (end.attenuation - mean) ** 2) for end in found))


@given(SPREADS, st.floats(0.003, 0.02), st.lists(st.tuples(st.floats(-0.06, 0.06), SPREADS), min_size=1, max_size=6))
def test_a_mean_is_learnt_as_the_textbook_has_it(
    spread: float, between: float, rows: list[tuple[float, float]]
) -> None:
    """Gelman et al. 2013, Bayesian Data Analysis, equations 2.12 and 5.17 (from memory): weights by precision."""
    told = [OwnEnd(MIDDLE + away, sd, away) for away, sd in rows]
    (mean, sd), _ = ends._learnt(spread, between, told)
    shared = max(spread**2 - between**2, (0.25 * spread) ** 2)
    precisions = [1.0 / (between**2 + one.sd**2) for one in told]
    precision = 1.0 / shared + sum(precisions)
    assert mean == pytest.approx(sum(p * o.away for p, o in zip(precisions, told, strict=True)) / precision, abs=1e-9)
    assert sd == pytest.approx(math.sqrt(1.0 / precision + between**2), rel=1e-6)


def test_without_own_batches_the_yeasts_range_speaks() -> None:
    found = expected_ends(LOW, HIGH)
    assert mean_of(found) == pytest.approx(MIDDLE)
    assert sum(end.share for end in found) == pytest.approx(1.0)


def test_one_batch_tells_something_and_three_tell_more() -> None:
    means = [mean_of(expected_ends(LOW, HIGH, own(*[0.79] * count))) for count in (0, 1, 3, 6)]
    assert means == sorted(means)
    assert MIDDLE + 0.008 < means[1] < 0.78
    assert means[2] > 0.78
    spreads = [spread_of(expected_ends(LOW, HIGH, own(*[0.79] * count))) for count in (0, 1, 3, 6)]
    assert spreads == sorted(spreads, reverse=True)


def test_however_many_there_are_the_next_lies_about_their_mean() -> None:
    assert spread_of(expected_ends(LOW, HIGH, own(*[0.77] * 200, sd=0.001))) > ends.BETWEEN[0][0] * 0.9


def test_batches_that_differ_widely_tell_less_than_those_that_agree() -> None:
    agreeing, apart = own(0.77, 0.77, 0.77), own(0.72, 0.77, 0.82)
    assert spread_of(expected_ends(LOW, HIGH, apart)) > 1.2 * spread_of(expected_ends(LOW, HIGH, agreeing))


def test_an_end_far_outside_the_range_is_believed_once_it_was_seen_twice() -> None:
    once, twice = (mean_of(expected_ends(LOW, HIGH, own(*[0.66] * count))) for count in (1, 2))
    assert twice < once < MIDDLE
    assert abs(twice - 0.66) < 0.02


def test_a_density_holds_all_there_is() -> None:
    grid = np.linspace(0.3, 1.2, 20_001)
    density = density_of(expected_ends(LOW, HIGH, own(0.79, 0.78)), grid)
    assert float(density.sum() * (grid[1] - grid[0])) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(
    ("attenuations", "told"),
    [
        ((), ""),
        ((0.771,), "your last batch with this yeast ended at 77 %"),
        ((0.771, 0.768), "your last two with this yeast ended at 77 %"),
        ((0.771, 0.76, 0.79), "your last three with this yeast ended at 76 to 79 %"),
    ],
)
def test_what_it_rests_on_is_said_in_words(attenuations: tuple[float, ...], told: str) -> None:
    assert own_words(own(*attenuations)) == told
