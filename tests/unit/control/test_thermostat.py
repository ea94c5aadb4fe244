"""Control quality on the thermal model, beside a plain thermostat on the beer's probe: same plant, guard and run.

The whole table is `python -m tests.bench control`.
"""

from dataclasses import replace

import pytest

from fermwatch.control.thermostat import AIR_LEAST_C, Felt, Thermostat, wish
from fermwatch.model.degree import Output
from tests.support.thermal_run import DAY, Ours, Plain, Plant, ferments, run

BARE = Plant(20.0, 1.8, 24.0)
EITHER = pytest.mark.parametrize("sees_air", [True, False], ids=["with a probe in the air", "without one"])


def steps_down(at_s: float) -> float:
    return 20.0 if at_s < DAY else 16.0


@EITHER
def test_at_a_steady_load_the_beer_is_where_it_should_be_and_the_compressor_starts_seldom(sees_air: bool) -> None:
    ours = run(replace(BARE, heat_w=lambda _: 2.0), Ours(sees_air), 4)
    assert ours.near(1.5 * DAY) >= 0.9
    assert ours.starts_a_day(1.5 * DAY) <= 12.0


@EITHER
def test_at_a_step_it_goes_half_as_far_beyond_as_a_plain_one(sees_air: bool) -> None:
    plant = replace(BARE, target_c=steps_down, begins_c=20.0)
    under = []
    for wished in (Ours(sees_air), Plain()):
        ran = run(plant, wished, 3)
        there_s = next(at for at, beer in zip(ran.at_s, ran.beer_c, strict=True) if at > DAY and beer < 16.3)
        under.append(ran.beyond_c(there_s)[0])
    assert under[0] <= under[1] / 2.0


@EITHER
def test_at_the_peak_of_fermentation_it_lets_the_beer_rise_less(sees_air: bool) -> None:
    plant = replace(BARE, heat_w=ferments(20.0))
    ours, plain = (run(plant, wished, 3.5).beyond_c(0.0)[1] for wished in (Ours(sees_air), Plain()))
    assert ours <= 0.5 < plain


@pytest.mark.parametrize("beer_c", [2.2, 5.0, 25.0])
def test_the_air_is_never_made_colder_where_beer_freezes(beer_c: float) -> None:
    for on in (frozenset[Output](), frozenset({Output.COOL})):
        felt = Felt(2.0, beer_c, AIR_LEAST_C, on, 9000.0)
        assert Output.COOL not in wish(Thermostat(), felt)[1]


def test_between_heat_and_cool_nothing_is_on() -> None:
    for beer_c in (17.9, 18.0, 18.1):
        _, wished = wish(Thermostat(), Felt(18.0, beer_c, 18.0, frozenset(), 300.0))
        assert wished == frozenset()


@pytest.mark.parametrize(("beer_c", "share"), [(17.8, 0.1), (17.2, 0.4), (16.9, 1.0), (18.2, 0.0)])
def test_a_belt_is_on_for_a_share_of_the_time_by_how_much_the_beer_lacks(beer_c: float, share: float) -> None:
    on = [
        Output.HEAT in wish(Thermostat(), Felt(18.0, beer_c, None, frozenset(), float(at_s)))[1] for at_s in range(600)
    ]
    assert sum(on) / len(on) == pytest.approx(share, abs=0.01)
