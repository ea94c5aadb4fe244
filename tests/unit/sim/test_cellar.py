"""The cellar at work: it repeats itself, speaks at its intervals, and writes down what its people would."""

from collections import defaultdict
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from fermwatch.ids import is_ulid
from fermwatch.model.batch import Event, GravityMeasurement
from fermwatch.model.quantity import Quantity
from fermwatch_sim.cellar import Cellar, Passage, ProbeValue
from fermwatch_sim.scenario import load

START = datetime(2026, 3, 14, 18, tzinfo=UTC)


def demo(seed: int = 1) -> Cellar:
    return Cellar(load("demo"), start=START, seed=seed)


@pytest.fixture(scope="module")
def history() -> Passage:
    return demo().history()


def by_probe(samples: tuple[ProbeValue, ...]) -> dict[str, list[ProbeValue]]:
    series = defaultdict(list)
    for sample in samples:
        series[sample.probe].append(sample)
    return series


def test_the_same_seed_says_the_same_to_the_last_digit(history: Passage) -> None:
    assert demo().history() == history


def test_another_seed_says_something_else_about_the_same_truth(history: Passage) -> None:
    other = demo(seed=2)
    assert other.history().samples != history.samples
    same = demo()
    same.history()
    assert same.truth("left") == other.truth("left")


def test_it_does_not_matter_in_what_strides_time_passes(history: Passage) -> None:
    cellar = demo()
    samples: list[ProbeValue] = []
    while cellar.now < START:
        samples.extend(cellar.advance(min(cellar.now + timedelta(hours=7), START)).samples)
    assert tuple(samples) == history.samples


def test_time_passes_in_whole_minutes_and_never_back() -> None:
    cellar = demo()
    begun = cellar.now
    assert cellar.advance(begun + timedelta(seconds=59)) == Passage(begun, (), ())
    assert cellar.advance(begun + timedelta(seconds=60)).now == begun + timedelta(minutes=1)
    assert cellar.advance(begun).samples == ()


def test_history_ends_at_the_start_in_order_of_time(history: Passage) -> None:
    instants = [sample.at for sample in history.samples]
    assert history.now == START
    assert instants == sorted(instants)
    assert START - timedelta(minutes=5) < instants[-1] <= START


def test_history_has_days_of_every_probe_from_its_pitch_on(history: Passage) -> None:
    cellar = demo()
    series = by_probe(history.samples)
    assert set(series) == {probe.slug for probe in cellar.scenario.probes}
    pitched = {batch.vessel: batch.pitched_at for batch in cellar.batches}
    for probe in cellar.scenario.probes:
        said = series[probe.slug]
        every = timedelta(seconds=max(probe.every_s, 300.0))
        assert {later.at - earlier.at for earlier, later in pairwise(said)} == {every}
        assert timedelta() < said[0].at - pitched[probe.vessel] <= every


def test_live_it_speaks_every_minute_and_of_gravity_every_quarter_of_an_hour() -> None:
    cellar = demo()
    cellar.history()
    series = by_probe(cellar.advance(START + timedelta(hours=2)).samples)
    for probe in cellar.scenario.probes:
        assert len(series[probe.slug]) == (8 if probe.quantity is Quantity.GRAVITY else 120)


def test_samples_are_near_the_truth_in_canonical_units() -> None:
    from fermwatch.units import to_canonical

    cellar = demo()
    last = {sample.probe: sample for sample in cellar.history().samples}
    for probe in cellar.scenario.probes:
        truth = cellar.truth(probe.vessel)
        value = to_canonical(last[probe.slug].value, last[probe.slug].unit, probe.quantity)
        if probe.quantity is Quantity.BEER_TEMPERATURE:
            assert value == pytest.approx(truth.beer_c, abs=0.3)
        elif probe.quantity is Quantity.GRAVITY:
            assert value == pytest.approx(truth.gravity_sg, abs=0.003)


def test_people_write_down_what_they_measured_and_did_in_history(history: Passage) -> None:
    batches = {batch.vessel: batch.id for batch in demo().batches}
    measured = [entry for entry in history.entries if isinstance(entry.written, GravityMeasurement)]
    noted = [entry for entry in history.entries if isinstance(entry.written, Event)]
    assert len(measured) >= 3
    assert {entry.batch for entry in noted} == set(batches.values())
    assert all(is_ulid(entry.written.id) for entry in history.entries)
    assert len({entry.written.id for entry in history.entries}) == len(history.entries)


def test_a_hydrometer_reads_the_truth_within_its_uncertainty() -> None:
    cellar = demo()
    vessels = {batch.id: batch.vessel for batch in cellar.batches}
    read = 0
    while cellar.now < cellar.ends:
        for entry in cellar.advance(cellar.now + timedelta(minutes=1)).entries:
            if isinstance(entry.written, GravityMeasurement):
                truth = cellar.truth(vessels[entry.batch]).gravity_sg
                assert abs(entry.written.gravity_sg - truth) < 3.0 * entry.written.sd_points / 1000.0
                read += 1
    assert read == 6
