"""The closed loop's own truth: its simulators, its brewers, its intervals."""

import math

import numpy as np
import pytest

from fermwatch.model.finding import Phase
from tests.judge.closed import batches
from tests.judge.closed.__main__ import spread
from tests.judge.closed.batches import POOLS, SIMULATORS, SUGARS, brew
from tests.judge.closed.grading import THUMBS, Bar, early_ones, grade, table
from tests.judge.closed.intervals import bootstrap, wilson
from tests.judge.closed.loop import MODES, by_thumb, is_early, is_false, run
from tests.judge.closed.pools import Curve, Enzymes, drain, share_left
from tests.judge.closed.story import story

MODE = {mode.name: mode for mode in MODES}


@pytest.mark.parametrize(("simulator", "count"), [("sugars", len(SUGARS)), ("pools", len(POOLS))])
def test_what_has_gone_and_what_is_left_make_up_what_was_there(simulator: str, count: int) -> None:
    for seed in range(count):
        one = brew(simulator, seed)
        whole = one.truth.gravity - one.truth.potential
        assert np.allclose(whole, whole[0], atol=1e-6), one.scenario
        assert np.all(np.diff(one.truth.gravity) <= 1e-9), one.scenario
        assert np.all(one.truth.potential >= -1e-9), one.scenario


def test_a_pool_of_dextrins_alone_drains_as_exp_says() -> None:
    far = Curve(20.0, 1e6, 1e-3, 1.0, 0.0, 10.0, 1.0, heavy=False)  # its ordinary fall never comes
    truth = drain(50.0, 30.0, far, lambda _: 20.0, lambda *_: 1.0, Enzymes(8.0, 0.01, 24.0), 10.0,
                  np.random.default_rng(1))  # fmt: skip
    at_h = 124.0
    fallen = 50.0 - float(np.interp(at_h, truth.hours, truth.gravity))
    assert fallen == pytest.approx(8.0 * (1.0 - math.exp(-0.01 * 100.0)), abs=1e-3)


def test_the_curve_begins_whole_and_is_half_way_where_it_says() -> None:
    logistic = Curve(20.0, 48.0, 0.2, 1.0, 0.0, 10.0, 1.0, heavy=False)
    assert share_left(logistic, 0.0) == 1.0
    assert share_left(logistic, 48.0) == pytest.approx(0.5, abs=1e-3)


def test_a_yeast_that_drops_out_is_safe_later_than_one_that_does_not() -> None:
    for simulator, names in (("sugars", [make.__name__.strip("_") for make in SUGARS]), ("pools", list(POOLS))):
        ordinary = [brew(simulator, s) for s in range(len(names) * 4) if names[s % len(names)] in {"normal", "ale"}]
        dropping = [
            brew(simulator, s) for s in range(len(names) * 4) if names[s % len(names)] in {"drops", "drops_early"}
        ]
        middle = [np.median([one.safe_h or one.end_h for one in group]) for group in (ordinary, dropping)]
        assert middle[1] > middle[0]


def test_what_cannot_be_told_from_gravity_is_marked_so() -> None:
    marked = {brew(name, seed).scenario for name in SIMULATORS for seed in range(60) if not brew(name, seed).decidable}
    assert {"stall_hidden", "wild_slow"} <= marked
    assert not marked & {"normal", "ale", "dry_hopped", "hop_creep", "stall_restart"}


def test_the_rules_of_thumb_are_early_in_many_and_less_so_when_they_wait_or_look_at_the_level() -> None:
    made = [one for name in SIMULATORS for seed in range(78) if (one := brew(name, seed)).decidable]

    def early(from_day: int, in_range: bool) -> float:
        said = [(one, by_thumb(one, from_day, in_range=in_range)[0]) for one in made]
        return sum(hour is not None and is_early(one, hour) for one, hour in said) / len(made)

    from_7, from_14, in_range = (early(*rule) for rule in THUMBS.values())
    assert 0.15 < from_7 < 0.5
    assert from_14 < from_7
    assert in_range < from_7


def test_a_brewer_who_reads_unasked_is_no_worse_informed_and_one_of_two_readings_gives_two() -> None:
    one = brew("pools", 0)
    assert run(one, MODE["probe, two at most"]).readings <= 2
    unasked = run(one, MODE["thermometer, measures unasked"])
    assert min(evening.hour for evening in unasked.evenings if evening.reading is not None) <= 8 * 24.0


def test_the_same_seed_comes_to_the_same() -> None:
    assert grade("pools", 3, MODE["thermometer"]) == grade("pools", 3, MODE["thermometer"])


def test_a_table_and_a_story_are_told_of_what_was_graded() -> None:
    graded = [grade(name, 2, MODE["hydrometer alone"]) for name in SIMULATORS]
    lines = list(table(graded))
    assert any(line.startswith("hydrometer alone") for line in lines)
    assert list(early_ones(graded)) == []
    never = [one for one in graded if one.due and one.ways["judge"].never]
    assert any(line.startswith("never, hydrometer alone") for line in lines) == bool(never)
    told = list(story(run(brew("pools", 2), MODE["probe"])))
    assert "truly safe" in told[0]
    assert not any(mark in line for line in told for mark in ("p:", "g:1", "\x02"))


def test_a_phase_is_false_of_beer_that_is_in_another_one() -> None:
    resting = next(one for seed in range(200) if (one := brew("pools", seed)).scenario == "stall_visible")
    ordinary, high = brew("pools", 0), brew("pools", POOLS.index("finish_high"))
    safe_h = ordinary.safe_h or 0.0
    assert is_false(ordinary, Phase.NOT_STARTED, 120.0)
    assert not is_false(ordinary, Phase.NOT_STARTED, 1.0)
    assert is_false(ordinary, Phase.STALLED, safe_h + 48.0)
    assert not is_false(resting, Phase.STALLED, resting.end_h - 24.0)
    assert not is_false(high, Phase.STALLED, high.end_h - 24.0)
    assert not is_false(ordinary, Phase.TERMINAL, 120.0)


def test_a_bar_is_met_by_what_is_as_good_and_by_nothing_that_was_never_said() -> None:
    bar = Bar((5.0, 8.0), 0.04)
    assert bar.met([4.0, 5.0, 6.0], 0.04)
    assert not bar.met([4.0, 5.0, 6.0], 0.05)
    assert not bar.met([6.0, 6.0, 6.0], 0.0)
    assert not bar.met([4.0, 5.0, 12.0], 0.0)
    assert not bar.met([], 0.0)


def test_the_stories_told_are_of_every_mode_and_simulator() -> None:
    every = [(simulator, seed, mode) for mode in MODES for seed in range(2) for simulator in SIMULATORS]
    told = spread(every, len(MODES), len(SIMULATORS))
    assert {mode.name for _, _, mode in told} == set(MODE)
    assert {simulator for simulator, _, _ in told} == set(SIMULATORS)


def test_an_unknown_simulator_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match=", ".join(batches.SIMULATORS)):
        brew("casks", 1)


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_shares_have_the_published_score_intervals(hits: int, of: int, low: float, high: float) -> None:
    """Newcombe 1998, Statistics in Medicine 17:857, table I, method 3 (from memory)."""
    assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)


def test_a_bootstrap_interval_holds_its_figure_and_narrows_with_more() -> None:
    few, many = np.linspace(0.0, 1.0, 20).tolist(), np.linspace(0.0, 1.0, 500).tolist()
    spans = [bootstrap(values, lambda row: float(np.mean(row))) for values in (few, many)]
    assert all(low < 0.5 < high for low, high in spans)
    assert spans[1][1] - spans[1][0] < spans[0][1] - spans[0][0]
