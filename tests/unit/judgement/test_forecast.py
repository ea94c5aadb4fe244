"""Where a beer will end and when: what the forecast rests on, and that its intervals are worth their name."""

from dataclasses import replace

import pytest

from fermwatch.judgement.forecast import look_ahead
from fermwatch.judgement.view import View
from fermwatch.model.batch import Event, EventKind
from tests.unit.judgement.beer import SAISON, a_batch, brewed, event, fermenting, view_of


def view(hour: float, end: float = 12.0, **more: object) -> View:
    return view_of(brewed(fermenting(end=end), hour / 24.0 + 1.0, **more), hour)  # type: ignore[arg-type]


def test_the_same_view_lets_expect_the_same() -> None:
    assert look_ahead(view(72.0)) == look_ahead(view(72.0))


@pytest.mark.parametrize("hour", [42.0, 60.0, 84.0])
@pytest.mark.parametrize("end", [10.5, 12.0, 13.5])
def test_an_end_inside_the_range_lies_in_the_interval(hour: float, end: float) -> None:
    outlook = look_ahead(view(hour, end))
    assert outlook.low < end < outlook.high
    assert outlook.low < outlook.terminal < outlook.high
    assert outlook.done_low < outlook.done < outlook.done_high


def test_it_knows_more_the_further_the_beer_has_come() -> None:
    widths = [outlook.high - outlook.low for outlook in (look_ahead(view(hour)) for hour in (60.0, 84.0, 120.0))]
    assert widths == sorted(widths, reverse=True)
    assert abs(look_ahead(view(96.0)).terminal - 12.0) < 1.0


def test_early_on_it_says_the_yeasts_own_middle_and_not_what_two_days_seem_to_show() -> None:
    early = look_ahead(view(36.0))
    middle = 50.0 * (1.0 - 0.76)  # of a range from 72 to 80 %
    assert abs(early.terminal - middle) < 1.5


def test_a_colder_beer_takes_longer() -> None:
    warm = look_ahead(view(72.0))
    cold = look_ahead(view(72.0, temperature_c=lambda hour: 20.0 if hour < 48.0 else 12.0))
    assert cold.done > warm.done + 6.0


def test_hydrometer_readings_are_believed_over_a_probe_that_strays() -> None:
    astray = look_ahead(view(96.0, drift=1.0))
    checked = look_ahead(view(96.0, drift=1.0, read_at=(1.0, 60.0, 80.0, 94.0)))
    assert abs(checked.terminal - 12.0) < 1.0
    assert checked.high - checked.low < 0.6 * (astray.high - astray.low)


def test_nothing_heard_but_the_original_gravity_leaves_the_yeasts_range() -> None:
    outlook = look_ahead(view(60.0, probe=False))
    assert 50.0 * (1.0 - 0.80) - 2.0 < outlook.low < outlook.terminal < outlook.high < 50.0 * (1.0 - 0.72) + 2.0


@pytest.mark.parametrize(
    ("happened", "told"),
    [
        (event(80.0, EventKind.DRY_HOP, grams=60.0), "what the hops' enzymes free"),
        (event(80.0, EventKind.FRUIT, grams=500.0), "how far sugar, fruit or a blend"),
    ],
)
def test_it_names_what_it_cannot_know(happened: Event, told: str) -> None:
    assert any(one.startswith(told) for one in look_ahead(view(96.0, events=[happened])).cannot_know)
    assert look_ahead(view(96.0)).cannot_know == ()


def test_slow_sugars_and_wild_yeast_are_named_too() -> None:
    saison = view(96.0, batch=a_batch(yeast=SAISON))
    assert len(look_ahead(saison).cannot_know) == 1
    wild = replace(saison, facts=replace(saison.facts, wild=True))
    assert len(look_ahead(wild).cannot_know) == 2
