"""Many readings at once tell a judge what each of them would have told it."""

from array import array
from dataclasses import replace
from datetime import timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fermwatch.clock import from_ms, to_ms
from fermwatch.judgement.judge import Judge
from fermwatch.judgement.series import Series
from tests.unit.judgement.beer import PITCHED, a_batch, fermenting

HOUR = timedelta(hours=1)

few_hours = st.integers(0, 3).map(float)
few_values = st.sampled_from([-0.0, 0.0, 1.0, 12.5])
rows = st.lists(st.tuples(few_hours, few_values), max_size=12)


@given(st.lists(rows, max_size=4))
def test_many_values_at_once_are_filed_as_one_by_one(chunks: list[list[tuple[float, float]]]) -> None:
    together, apart = Series(), Series()
    for chunk in chunks:
        new = [hour for hour, value in chunk if apart.add(hour, value)]
        hours, values = np.array([row[0] for row in chunk]), np.array([row[1] for row in chunk])
        assert together.add_many(hours, values) == min(new, default=None)
        assert together.between(-1.0, 9.0) == apart.between(-1.0, 9.0)


said = st.tuples(
    st.integers(-3, 60).map(lambda hours: to_ms(PITCHED + hours * HOUR)), st.floats(allow_nan=True, allow_infinity=True)
)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(said, max_size=6),
    st.integers(0, 999_999),
    st.lists(st.integers(0, 59), min_size=1, max_size=40),
)
def test_a_judge_told_all_at_once_says_what_one_says_who_was_told_one_by_one(
    odd: list[tuple[int, float]], microsecond: int, hours: list[int]
) -> None:
    pitched = PITCHED.replace(microsecond=microsecond)  # what a person typed has any; rows of a store have none
    beer, now = fermenting(), PITCHED + 60 * HOUR
    gravities = [(to_ms(PITCHED + hour * HOUR), 1.0 + beer(float(hour)) / 1000.0) for hour in hours] + odd
    temperatures = [(ms, 20.0 + number % 3 / 10) for number, (ms, _) in enumerate(gravities)] + odd
    told, apart = Judge(replace(a_batch(), pitched_at=pitched)), Judge(replace(a_batch(), pitched_at=pitched))
    told.add_gravities(array("q", [ms for ms, _ in gravities]), array("d", [sg for _, sg in gravities]))
    told.add_temperatures(array("q", [ms for ms, _ in temperatures]), array("d", [c for _, c in temperatures]))
    for ms, gravity_sg in gravities:
        apart.add_gravity(from_ms(ms), gravity_sg)
    for ms, celsius in temperatures:
        apart.add_temperature(from_ms(ms), celsius)
    assert told.judge_at_once(now) == apart.judge_at_once(now)
