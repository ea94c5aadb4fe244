"""What the judge says depends on what it was told, and on nothing else."""

import random
import tracemalloc
from datetime import datetime
from typing import Any

import numpy as np
import pytest

from fermwatch.judgement import judge as judge_module
from fermwatch.judgement.judge import Judge
from fermwatch.judgement.preprocess import Bin, RecentGravity
from fermwatch.judgement.statement import Step
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.model.finding import Phase
from fermwatch.model.judgement import Judgement
from tests.unit.judgement.beer import LAGER, a_batch, at, brewed, fermenting, reading, said

Rows = list[tuple[datetime, str, float]]


def rows(days: float) -> Rows:
    noise = np.random.default_rng(5)
    gravity = fermenting()
    told: Rows = []
    for hour in np.arange(0.05, days * 24.0, 0.5):
        told.append((at(hour), "T", 20.0))
        told.append((at(hour), "G", 1.0 + (gravity(hour) + float(noise.normal(0.0, 0.8))) / 1000.0))
    told += [(at(hour), "H", 1.0 + gravity(hour) / 1000.0) for hour in (0.3, 150.0, 200.0)]
    return sorted(told)


def tell(judge: Judge, row: tuple[datetime, str, float]) -> None:
    when, kind, value = row
    if kind == "T":
        judge.add_temperature(when, value)
    elif kind == "G":
        judge.add_gravity(when, value)
    else:
        judge.add_measurement(GravityMeasurement(when.isoformat(), when, value))


def judged_on_the_way(told: Rows, hours: list[float]) -> list[Judgement]:
    """Asked at these hours while the rows come in."""
    judge, waiting, answers = Judge(a_batch()), list(told), []
    for hour in hours:
        while waiting and waiting[0][0] < at(hour):
            tell(judge, waiting.pop(0))
        answers.append(judge.judge(at(hour)))
    return answers


def test_a_watcher_that_starts_again_says_the_same() -> None:
    told = rows(10)
    hours = [float(hour) for hour in range(3, 240, 3)]
    on_the_way = judged_on_the_way(told, hours)
    again = Judge(a_batch())
    for row in told:
        tell(again, row)
    assert [again.judge(at(hour)) for hour in hours[-5:]] == on_the_way[-5:]


def test_the_order_in_which_rows_arrive_changes_nothing() -> None:
    told = rows(6)
    shuffled = list(told)
    random.Random(3).shuffle(shuffled)
    straight, mixed = Judge(a_batch()), Judge(a_batch())
    for row in told:
        tell(straight, row)
    for place, row in enumerate(shuffled):
        tell(mixed, row)
        if place % 200 == 0:
            mixed.judge(at(144.0))
    assert mixed.judge(at(143.0)) == straight.judge(at(143.0))


def test_between_the_ends_of_two_bins_it_says_again_what_it_said() -> None:
    judge = brewed(fermenting(), 4)
    first = judge.judge(at(90.0))
    assert judge.judge(at(91.5)) is first
    assert judge.judge(at(93.1)) is not first


def test_what_was_said_of_an_earlier_hour_does_not_rest_on_later_rows() -> None:
    told = rows(8)
    early = [row for row in told if row[0] < at(100.0)]
    short, long = Judge(a_batch()), Judge(a_batch())
    for row in early:
        tell(short, row)
    for row in told:
        tell(long, row)
    assert short.judge(at(99.0)) == long.judge(at(99.0))


def test_a_late_hydrometer_reading_re_judges_from_its_own_hour() -> None:
    judge = brewed(fermenting(), 9, read_at=(0.3,))
    before = said(judge, 215.0)
    judge.add_measurement(reading(150.0, 12.0))
    after = said(judge, 215.0)
    assert before.trend is not None
    assert after.trend is not None
    assert after.trend.gravity_sd_points < before.trend.gravity_sd_points


def test_the_trend_follows_and_knows_how_well() -> None:
    judge = brewed(fermenting(), 9, read_at=(0.3, 150.0, 200.0), drift=0.3)
    trend = said(judge, 212.0).trend
    assert trend is not None
    assert trend.gravity_sg == pytest.approx(1.012, abs=0.0015)
    assert trend.apparent_attenuation == pytest.approx(0.76, abs=0.03)
    assert trend.probe_drift_points_per_day == pytest.approx(0.3, abs=0.15)
    assert trend.temperature_c == 20.0


def test_phases_follow_an_ordinary_ale() -> None:
    judge = brewed(fermenting(), 14, read_at=(0.3, 168.0, 216.0, 264.0, 312.0))
    seen: list[Phase] = []
    for hour in range(3, 330, 3):
        phase = said(judge, float(hour)).phase
        assert phase is not None
        if not seen or seen[-1] is not phase.phase:
            seen.append(phase.phase)
    assert seen == [Phase.LAG, Phase.ACTIVE, Phase.SLOWING, Phase.TERMINAL, Phase.CONDITIONING]


def test_beer_that_does_not_start_is_told_twelve_hours_after_its_longest_lag() -> None:
    judge = brewed(lambda _hour: 50.0, 5)
    early, late = said(judge, 45.0).phase, said(judge, 60.0).phase
    assert early is not None
    assert late is not None
    assert (early.phase, late.phase) == (Phase.LAG, Phase.NOT_STARTED)


@pytest.mark.parametrize(
    ("temperature_c", "reason"),
    [(20.0, "flocculated early"), (11.0, "too cold: it was down to 11.0 °C in the last day")],
    ids=["warm", "cold"],
)
def test_a_stall_is_told_within_two_days_with_its_likely_reason(temperature_c: float, reason: str) -> None:
    def stalling(hour: float) -> float:
        return max(fermenting()(hour), 27.0)

    judge = brewed(stalling, 6, temperature_c=lambda hour: 20.0 if hour < 50.0 else temperature_c)
    onset_h = next(hour for hour in np.arange(0.0, 100.0, 1.0) if stalling(hour) == 27.0)
    phase = said(judge, onset_h + 48.0).phase
    assert phase is not None
    assert phase.phase is Phase.STALLED
    assert reason in plain(phase.reason)


def test_a_stall_that_ends_is_told_as_restarted() -> None:
    def resuming(hour: float) -> float:
        return max(fermenting()(hour), 27.0) if hour < 150.0 else fermenting(start=42.0, middle_h=180.0)(hour)

    judge = brewed(resuming, 12)
    seen = {said(judge, float(hour)).phase for hour in range(60, 280, 3)}
    assert {Phase.STALLED, Phase.RESTARTED} <= {statement.phase for statement in seen if statement}


def test_a_forecast_is_given_from_the_second_day_on_even_with_one_reading_that_shows_a_fall() -> None:
    undated = said(brewed(fermenting(), 3, probe=False, read_at=(0.3,)), 37.0).forecast
    assert undated is not None
    assert undated.done_at is None, "nothing shows that it has begun"
    judge = brewed(fermenting(), 3, probe=False, read_at=(0.3, 32.0))
    assert said(judge, 33.0).forecast is None
    forecast = said(judge, 37.0).forecast
    assert forecast is not None
    assert forecast.low_sg < forecast.terminal_sg < forecast.high_sg
    assert 1.005 < forecast.terminal_sg < 1.018
    assert forecast.done_low is not None
    assert forecast.done_at is not None
    assert forecast.done_high is not None
    assert forecast.done_low < forecast.done_at < forecast.done_high


def test_the_forecast_narrows_onto_where_it_ends() -> None:
    judge = brewed(fermenting(end=10.5), 9, read_at=(0.3, 100.0, 150.0, 200.0))
    early, late = said(judge, 42.0).forecast, said(judge, 210.0).forecast
    assert early is not None
    assert late is not None
    assert late.high_sg - late.low_sg < early.high_sg - early.low_sg
    assert late.terminal_sg == pytest.approx(1.0105, abs=0.001)


def test_rows_from_before_the_pitch_and_impossible_ones_are_no_evidence() -> None:
    judge, plain = brewed(fermenting(), 3), brewed(fermenting(), 3)
    judge.add_gravity(at(-5.0), 1.020)
    judge.add_gravity(at(20.0), 1.900)
    judge.add_temperature(at(20.0), 85.0)
    judge.add_temperature(at(20.0), -127.0)
    assert said(judge, 70.0) == said(plain, 70.0)


def test_a_gap_of_days_is_crossed() -> None:
    judge = Judge(a_batch(LAGER))
    judge.add_gravity(at(1.0), 1.050)
    judge.add_gravity(at(300.0), 1.012)
    trend = said(judge, 303.0).trend
    assert trend is not None
    assert trend.gravity_sd_points > 0.5


def test_a_reading_by_hand_is_judged_at_once_and_not_at_the_next_bin() -> None:
    judge = Judge(a_batch())
    for row in rows(6.0):
        tell(judge, row)
    now, taken = at(142.9), at(142.5)
    before = judge.judge(now)
    judge.add_measurement(GravityMeasurement("hand", taken, 1.0 + fermenting()(142.5) / 1000.0))
    at_once = judge.judge_at_once(now)
    assert judge.judge(now) == before
    assert before.trend is not None
    assert at_once.trend is not None
    assert at_once.trend.gravity_sd_points < before.trend.gravity_sd_points
    assert at_once.at == at_once.trend.at == taken
    assert at_once.verdict is not None
    assert at_once.verdict.since <= taken
    assert judge.judge_at_once(at(143.0)) is at_once


def test_what_is_said_at_once_rests_on_nothing_that_came_later() -> None:
    """Else it hangs on when somebody asked, and a watcher that starts again says something else."""
    soon, late = Judge(a_batch()), Judge(a_batch())
    note = (at(142.5), "H", 1.0 + fermenting()(142.5) / 1000.0)
    told = [row for row in rows(6.0) if row[0] < at(143.9)]
    for row in [*told, note]:
        tell(late, row)
        if row[0] < at(142.6):
            tell(soon, row)
    first = soon.judge_at_once(at(142.6))
    assert late.judge_at_once(at(143.9)) == first
    for row in told:
        tell(soon, row)
    assert soon.judge_at_once(at(143.9)) == first


def test_what_a_bin_that_has_begun_lets_expect_is_not_said_once_it_is_whole() -> None:
    asked, never_asked = Judge(a_batch()), Judge(a_batch())
    note = (at(141.5), "H", 1.0 + fermenting()(141.5) / 1000.0)
    told = [row for row in rows(6.0) if row[0] < at(144.0)]
    for row in [note, *told]:
        tell(never_asked, row)
        if row[0] < at(142.0):
            tell(asked, row)
    assert asked.judge_at_once(at(142.0)).forecast is not None
    for row in told:
        tell(asked, row)
    assert asked.judge(at(144.0)) == never_asked.judge(at(144.0))


def test_without_news_at_once_says_the_same() -> None:
    judge = Judge(a_batch())
    for row in rows(3.0):
        tell(judge, row)
    assert judge.judge_at_once(at(71.0)) == judge.judge(at(71.0))


def test_one_more_reading_lets_no_more_be_judged_again_than_rests_on_it(monkeypatch: pytest.MonkeyPatch) -> None:
    judge = brewed(fermenting(), 10, read_at=(0.3, 168.0))
    judge.judge(at(230.0))
    looks: list[int] = []
    step = Judge._step

    def counted(self: Judge, index: int, window: RecentGravity, bins: list[Bin]) -> Step:
        looks.append(index)
        return step(self, index, window, bins)

    monkeypatch.setattr(Judge, "_step", counted)
    judge.add_gravity(at(230.5), 1.012)
    judge.add_measurement(reading(230.6, 12.0))
    judge.judge_at_once(at(231.5))
    judge.judge_at_once(at(232.0))
    assert len(looks) <= 3
    judge.add_measurement(reading(226.0, 12.0))  # entered late: two bins ago
    judge.judge(at(232.0))
    assert len(looks) <= 6


def bytes_kept(days: int) -> int:
    """By a judge that is asked once a day, and then hears of hours that it has judged already."""
    judge = Judge(a_batch())
    tracemalloc.start()
    try:
        for day in range(1, days + 1):
            judge.judge(at(day * 24.0))
            judge.add_temperature(at(day * 24.0 - 8.0), 20.0)
        return tracemalloc.get_traced_memory()[0]
    finally:
        tracemalloc.stop()


def test_a_judge_keeps_the_same_of_every_day_however_many_there_are() -> None:
    bytes_kept(2)  # what is loaded late and kept for all
    assert bytes_kept(60) < 1.2 * 6 * bytes_kept(10)


def test_at_once_in_the_past_rests_on_nothing_that_came_later() -> None:
    judge, early = Judge(a_batch()), Judge(a_batch())
    for one in (judge, early):
        for row in rows(8.0):
            tell(one, row)
        one.add_measurement(reading(72.5, fermenting()(72.5)))
    judge.judge(at(180.0))
    assert judge.judge_at_once(at(73.0)) == early.judge_at_once(at(73.0))


def test_what_was_said_is_put_in_order_once_however_much_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thousands of notes made the answer about one beer slow with their square."""
    sortings = 0

    def counted(*said: Any, **more: Any) -> list[Any]:  # noqa: ANN401
        nonlocal sortings
        sortings += 1
        return sorted(*said, **more)

    monkeypatch.setattr(judge_module, "sorted", counted, raising=False)
    judge = Judge(a_batch())
    for row in rows(3):
        tell(judge, row)
    for number in range(500):
        judge.add_event(Event(f"N{number}", at(10.0 + number / 100.0), EventKind.NOTE, {}, "x"))
    judge.judge(at(72.0))
    assert sortings < 50
