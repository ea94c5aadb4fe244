"""Nonsense in a log may be judged wrongly, but it never stops the judging."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import (
    Batch,
    Event,
    EventKind,
    GravityMeasurement,
    GravityOrigin,
    Instrument,
    PackageChoice,
)
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import to_text
from fermwatch.replaying.input import GRAVITY, TEMPERATURE, Row
from fermwatch.replaying.replay import replay
from tests.unit.judgement.beer import ALE, LAGER, PITCHED, RETURNABLE, SAISON, at, event

YEASTS = (ALE, LAGER, SAISON, Yeast("x", "x", 20, 20, 0.0, 1.0), Yeast("x", "x", 5, 35, 0.75, 0.75))
PACKAGES = (None, RETURNABLE, PackageChoice("keg", 0.0, 0.0), PackageChoice("one-way-glass", 6.0, 40.0))
VALUES = {
    ("G1", GRAVITY): (1.05, 1.01, 0.9, 2.0, 1.03),
    ("G2", GRAVITY): (1.0,),
    ("T1", TEMPERATURE): (85.0, -127.0, 20.0, 2.0, -5.0, 40.0, 18.3),
    ("hydrometer", GRAVITY): (1.05, 1.01, 1.2, 0.99),
}


def nonsense(random: np.random.Generator) -> list[Row]:
    rows, hour = [], -3.0
    for _ in range(int(random.integers(0, 300))):
        hour += float(random.choice([0.0, 0.25, 1.0, 6.0]))
        probe, quantity = list(VALUES)[int(random.choice(4, p=[0.4, 0.1, 0.4, 0.1]))]
        late = float(random.uniform(0.0, 60.0)) if random.random() < 0.1 else 0.0
        value = float(random.choice(VALUES[probe, quantity]))
        rows.append(Row(PITCHED + timedelta(hours=hour - late), probe, quantity, value))
    return rows


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_nonsense_never_stops_a_replay(seed: int) -> None:
    random = np.random.default_rng(seed)
    batch = Batch(
        "b",
        "b",
        "v",
        float(random.choice([1.005, 1.05, 1.2])),
        PITCHED,
        float(random.choice([0.1, 20.0])),
        YEASTS[seed % len(YEASTS)],
        list(GravityOrigin)[seed % 3],
        package=PACKAGES[seed % len(PACKAGES)],
        extract_adjuncts_g_per_l={"lactose": 500.0} if seed % 3 == 0 else {},
    )
    events = [
        event(float(random.uniform(0, 300)), kind, grams=float(random.choice([0, 50, 5000])), gravity_sg=1.01)
        for kind in EventKind
        if random.random() < 0.3
    ]
    told = list(replay(nonsense(random), batch, events))
    assert told[-1]["event"] == "end"
    assert [line["at"] for line in told] == sorted(line["at"] for line in told)


TWICE_SURE = GravityMeasurement("once", at(30.0), 1.03, sd_points=0.0)
NUMBERS = st.one_of(st.floats(), st.sampled_from([0.0, -1.0, 1.0, 1e308, 1e-308]))
GRAVITIES = st.one_of(st.floats(0.9, 1.25), st.floats(), st.sampled_from([0.0, 1.0, 1.012, 1.05]))
INSTANTS = st.floats(-48.0, 600.0).map(at)
DATA = st.dictionaries(
    st.sampled_from(["grams", "name", "gravity_sg", "same_yeast", "passed", "target_c", "temperature_c", "what"]),
    st.one_of(NUMBERS, st.booleans(), st.sampled_from(["150 g", "", "no", "1.010", "sucrose"])),
)
EVENTS = st.builds(Event, st.uuids().map(str), INSTANTS, st.sampled_from(EventKind), DATA, st.just(""), st.booleans())
MEASUREMENTS = st.builds(
    GravityMeasurement,
    st.uuids().map(str),
    INSTANTS,
    GRAVITIES,
    st.sampled_from(Instrument),
    sd_points=NUMBERS,
    degassed=st.booleans(),
    voided=st.booleans(),
)
READINGS = st.lists(st.tuples(INSTANTS, st.booleans(), st.one_of(GRAVITIES, st.floats(-20.0, 90.0))), max_size=30)
BATCHES = st.builds(
    Batch,
    st.just("b"),
    st.just("b"),
    st.just("v"),
    GRAVITIES,
    st.just(PITCHED),
    NUMBERS,
    st.sampled_from(YEASTS),
    st.sampled_from(GravityOrigin),
    package=st.sampled_from(PACKAGES),
    extract_adjuncts_g_per_l=st.dictionaries(st.sampled_from(["lactose", "sucrose"]), NUMBERS, max_size=2),
)


@settings(max_examples=30, deadline=None)
@given(BATCHES, READINGS, st.lists(MEASUREMENTS, max_size=8), st.lists(EVENTS, max_size=8))
@example(Batch("b", "b", "v", 1.05, PITCHED, 20.0, ALE), [], [TWICE_SURE, replace(TWICE_SURE, id="again")], [])
@example(Batch("b", "b", "v", 1.05, PITCHED, 20.0, ALE), [], [], [event(30.0, EventKind.SUGAR, grams="150 g")])
@example(Batch("b", "b", "v", 1.05, PITCHED, 20.0, ALE), [], [], [event(30.0, EventKind.SUGAR, grams=float("nan"))])
def test_no_story_of_a_batch_stops_its_judging(
    batch: Batch,
    readings: list[tuple[datetime, bool, float]],
    measurements: list[GravityMeasurement],
    events: list[Event],
) -> None:
    judge = Judge(batch)
    for instant, is_gravity, value in readings:
        (judge.add_gravity if is_gravity else judge.add_temperature)(instant, value)
    for measurement in measurements:
        judge.add_measurement(measurement)
    for happened in events:
        judge.add_event(happened)
    for hour in (60.0, 200.0):
        for judged in (judge.judge(at(hour)), judge.judge_at_once(at(hour + 1.0))):
            assert judged.verdict is not None
            to_text(judged)  # nothing in it is infinite or no number
            holds_together(judged)


def holds_together(judged: Judgement) -> None:
    """What must be so of anything said."""
    assert judged.verdict is not None
    assert judged.verdict.sentence
    assert (judged.trend is None) <= (judged.forecast is None)
    if judged.forecast is not None and judged.trend is not None:
        forecast, trend = judged.forecast, judged.trend
        assert forecast.low_sg <= forecast.terminal_sg <= forecast.high_sg
        assert forecast.terminal_sg <= trend.gravity_sg + 1e-9
        assert forecast.high_sg <= trend.gravity_sg + 1.645 * trend.gravity_sd_points / 1000.0 + 1e-9
    if judged.verdict.kind is VerdictKind.SAFE:
        assert not any(evidence.remedy for evidence in judged.verdict.evidence)
