"""The numbers of a site are what OpenMetrics says they may be, and none of them is of another time than now."""

from dataclasses import replace
from datetime import timedelta

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

import tests.dashboard.snapshots as shown
from fermwatch.contracts.feed import Freshness, Lane, Snapshot
from fermwatch.contracts.store import SourceState
from fermwatch.model.probe import Vessel
from fermwatch.model.quantity import Quantity
from fermwatch.publish.metrics import metrics_text

RIGHT = ("fermenter", "right")
Samples = dict[tuple[str, frozenset[tuple[str, str]]], float]


def read(snapshot: Snapshot) -> Samples:
    """As the client library's strict parser finds them."""
    families = text_string_to_metric_families(metrics_text(snapshot))  # type: ignore[no-untyped-call]
    return {
        (sample.name, frozenset(sample.labels.items())): float(sample.value)
        for family in families
        for sample in family.samples
    }


def value(samples: Samples, name: str, **labels: str) -> float | None:
    return samples.get((f"fermwatch_{name}", frozenset(labels.items())))


def test_what_is_heard_now_is_there_with_its_base_unit() -> None:
    samples = read(shown.snapshot())
    assert value(samples, "probe_temperature_celsius", probe="right-beer-temperature") == 15.8
    assert value(samples, "probe_gravity_ratio", probe="right-gravity") == 1.0225
    assert value(samples, "watched") == 1.0
    assert value(samples, "readings_stored_total") == 412_345.0
    assert value(samples, "source_connected", source="board") == 1.0
    assert value(samples, "fermenter_attenuation_ratio", fermenter="right") == 0.55
    assert value(samples, "alarms", severity="advice") == 0.0


def test_pressure_is_in_pascals() -> None:
    lane = replace(shown.stalled(), probes=(shown.view("right", Quantity.PRESSURE, 0.8),))
    assert value(read(shown.snapshot(lane)), "probe_pressure_pascals", probe="right-pressure") == 80_000.0


@pytest.mark.parametrize("freshness", [one for one in Freshness if one is not Freshness.LIVE])
def test_what_is_not_of_now_is_gone_and_its_time_stays(freshness: Freshness) -> None:
    lane = shown.stalled()
    stale = replace(lane, probes=tuple(replace(one, freshness=freshness) for one in lane.probes))
    before, after = read(shown.snapshot(lane)), read(shown.snapshot(stale))
    name = "probe_temperature_celsius"
    assert value(before, name, probe="right-beer-temperature") is not None
    assert value(after, name, probe="right-beer-temperature") is None
    told = "probe_last_reading_timestamp_seconds"
    assert value(after, told, probe="right-beer-temperature") == (shown.NOW - timedelta(seconds=12)).timestamp()


def test_where_nobody_watches_nothing_is_judged() -> None:
    dead = replace(shown.snapshot(), wall_now=shown.NOW + timedelta(hours=1), lease_held=False)
    samples = read(dead)
    assert value(samples, "watched") == 0.0
    assert value(samples, "source_connected", source="board") == 0.0
    judged = ("fermwatch_alarms", "fermwatch_fermenter")
    assert not [name for name, _ in samples if name.startswith(judged)]


def test_a_state_is_one_of_all_that_there_are() -> None:
    samples = read(shown.snapshot())
    for name, is_so in (("fermenter_phase", "stalled"), ("fermenter_verdict", "hold")):
        told = f"fermwatch_{name}"
        of_right = {labels: set_ for (one, labels), set_ in samples.items() if one == told and RIGHT in labels}
        states = {dict(labels)[told]: set_ for labels, set_ in of_right.items()}
        assert [state for state, set_ in states.items() if set_] == [is_so]
        assert len(states) > 3


def test_a_source_that_is_lost_is_not_connected() -> None:
    lost = replace(shown.source(), state=SourceState.UNAVAILABLE)
    samples = read(replace(shown.snapshot(), sources=(lost,)))
    assert value(samples, "source_connected", source="board") == 0.0


def test_whatever_is_called_anything_stays_one_sample() -> None:
    harm = 'a"} 1\nfermwatch_watched 0\n# EOF\n\\'
    lane = replace(shown.stalled(), vessel=Vessel(harm, harm, 20.0))
    samples = read(shown.snapshot(lane))
    assert value(samples, "watched") == 1.0
    assert value(samples, "fermenter_attenuation_ratio", fermenter=harm) == 0.55


def test_there_are_as_many_as_there_are_things_and_no_more() -> None:
    """Per fermenter so many, however much was ever said of it."""

    def count(*lanes: Lane) -> int:
        return len(read(shown.snapshot(*lanes)))

    def with_own_probes(lane: Lane) -> Lane:
        slug = lane.vessel.slug
        own = (replace(one, probe=replace(one.probe, slug=f"{slug}-{one.probe.quantity}")) for one in lane.probes)
        return replace(lane, probes=tuple(own))

    named = [with_own_probes(lane) for lane in shown.many(12).lanes]
    least = count(*named[:3])
    assert count(*named[:6]) - least == count(*named[3:9]) - count(*named[3:6])
    assert count(*named) < 12 * 40


def test_an_empty_site_is_told_too() -> None:
    samples = read(replace(shown.snapshot(), lanes=(), alarms=(), sources=(), watcher=None))
    assert value(samples, "watched") == 0.0
