"""The site as numbers at one instant, in the text format of OpenMetrics 1.0. Pure: a picture in, text out.

A value stands there only while it is of now: of a probe that fell silent, or whose watcher is gone, the time of its
last reading alone remains. There are as many labels as there are probes, sources and fermenters, and no more.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

import fermwatch
from fermwatch.contracts.feed import Freshness, Lane, ProbeView, Snapshot
from fermwatch.contracts.store import SourceState
from fermwatch.model.finding import Phase, Severity, VerdictKind
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity, Unit

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
PASCAL_PER_BAR = 100_000.0
DIGITS = 5
# How a quantity is called, and its base unit there.
_OF_A_UNIT = {
    Unit.CELSIUS: "temperature_celsius",
    Unit.SG: "gravity_ratio",
    Unit.BAR: "pressure_pascals",
    Unit.FRACTION: "output_ratio",
}
_KINDS = {
    "temperature_celsius": "What a probe measures now, calibrated.",
    "gravity_ratio": "Specific gravity 20/20 that a probe reads now, calibrated.",
    "pressure_pascals": "Gauge pressure that a probe measures now.",
    "output_ratio": "What an output or a contact is now: 0 off, 1 on.",
}

Labels = Mapping[str, str]


@dataclass(slots=True)
class MetricFamily:
    """One name with all that is told under it. unit: what its name ends in, where it has one."""

    name: str
    kind: str
    about: str
    unit: str = ""
    samples: list[str] = field(default_factory=list)

    def add(self, value: float | None, labels: Labels | None = None, *, ending: str = "") -> None:
        """Nothing where nothing is known."""
        if value is not None:
            said = ",".join(f'{key}="{_escaped(text)}"' for key, text in (labels or {}).items())
            self.samples.append(f"{self.name}{ending}{f'{{{said}}}' if said else ''} {_number(value)}")

    def lines(self) -> Iterator[str]:
        yield f"# TYPE {self.name} {self.kind}"
        if self.unit:
            yield f"# UNIT {self.name} {self.unit}"
        yield f"# HELP {self.name} {_escaped(self.about)}"
        yield from self.samples


def metrics_text(snapshot: Snapshot) -> str:
    """The whole exposition, with its end."""
    parts = (_of_watcher, _of_probes, _of_sources, _of_alarms, _of_fermenters)
    families = [family for part in parts for family in part(snapshot)]
    lines = [line for family in families if family.samples for line in family.lines()]
    return "\n".join([*lines, "# EOF"]) + "\n"


def _of_watcher(snapshot: Snapshot) -> Iterator[MetricFamily]:
    build = MetricFamily("fermwatch_build", "info", "The program that tells this.")
    build.add(1, {"version": fermwatch.__version__}, ending="_info")
    yield build
    watched = MetricFamily("fermwatch_watched", "gauge", "Whether a watcher runs and gives signs of life.")
    watched.add(float(snapshot.watched))
    yield watched
    if snapshot.watcher is None:
        return
    beat = _timestamp("fermwatch_watcher_sign_of_life", "The watcher's last sign of life.")
    beat.add(snapshot.watcher.beat_at.timestamp())
    commit = _timestamp("fermwatch_watcher_last_commit", "When readings were committed last.")
    commit.add(_time(snapshot.watcher.last_commit_at))
    stored = MetricFamily("fermwatch_readings_stored", "counter", "Readings stored since the watcher started.")
    stored.add(snapshot.watcher.readings_stored, ending="_total")
    yield from (beat, commit, stored)


def _of_probes(snapshot: Snapshot) -> Iterator[MetricFamily]:
    views = [view for lane in snapshot.lanes for view in lane.probes] + list(snapshot.stores)
    known = MetricFamily("fermwatch_probe", "info", "What a probe measures, and where.")
    last = _timestamp("fermwatch_probe_last_reading", "When a probe last said something that can be believed.")
    values = {
        name: MetricFamily(f"fermwatch_probe_{name}", "gauge", about, name.rpartition("_")[2])
        for name, about in _KINDS.items()
    }
    for view in views:
        probe = view.probe
        known.add(1, {"probe": probe.slug, "fermenter": probe.vessel, "quantity": probe.quantity.value}, ending="_info")
        last.add(_time(view.at), {"probe": probe.slug})
        values[_OF_A_UNIT[CANONICAL_UNIT[probe.quantity]]].add(_live(view), {"probe": probe.slug})
    yield from (known, last, *values.values())


def _live(view: ProbeView) -> float | None:
    """None unless it was heard just now and is believed."""
    if view.freshness is not Freshness.LIVE or view.value is None:
        return None
    return view.value * PASCAL_PER_BAR if view.probe.quantity is Quantity.PRESSURE else view.value


def _of_sources(snapshot: Snapshot) -> Iterator[MetricFamily]:
    connected = MetricFamily("fermwatch_source_connected", "gauge", "Whether a source of readings is connected.")
    readings = MetricFamily("fermwatch_source_readings", "counter", "Readings of a source since the watcher started.")
    rejected = MetricFamily("fermwatch_source_rejected", "counter", "What was no reading, since the watcher started.")
    for source in snapshot.sources:
        labels = {"source": source.name}
        connected.add(float(snapshot.watched and source.state is SourceState.CONNECTED), labels)
        readings.add(source.readings, labels, ending="_total")
        rejected.add(source.rejected, labels, ending="_total")
    yield from (connected, readings, rejected)


def _of_alarms(snapshot: Snapshot) -> Iterator[MetricFamily]:
    """What is quiet on purpose, or told by another, is not counted. Where nobody watches, nobody knows."""
    standing = MetricFamily("fermwatch_alarms", "gauge", "Alarms that stand, by how grave they are.")
    if snapshot.watched:
        for severity in Severity:
            stands = [one for one in snapshot.alarms if one.stands and not one.is_quiet and not one.told_by]
            standing.add(sum(one.severity is severity for one in stands), {"severity": severity.value})
    yield standing


def _of_fermenters(snapshot: Snapshot) -> Iterator[MetricFamily]:
    """What is judged of the beers in them, while somebody watches."""
    batch = MetricFamily("fermwatch_fermenter_batch", "info", "The beer in a fermenter, by its identity.")
    attenuation = _ratio("fermwatch_fermenter_attenuation", "Apparent attenuation by what was measured.")
    ends = _ratio("fermwatch_fermenter_forecast_gravity", "The specific gravity where it most likely ends.")
    done = _timestamp("fermwatch_fermenter_forecast_done", "When it is most likely done.")
    phase = MetricFamily("fermwatch_fermenter_phase", "stateset", "How far the ferment is.")
    verdict = MetricFamily("fermwatch_fermenter_verdict", "stateset", "Whether it may be packaged.")
    for lane in snapshot.lanes if snapshot.watched else ():
        labels = {"fermenter": lane.vessel.slug}
        if lane.batch is not None:
            batch.add(1, {**labels, "batch": lane.batch.id}, ending="_info")
        attenuation.add(_attenuation(lane), labels)
        judged = lane.judgement
        if judged is not None and judged.forecast is not None:
            ends.add(judged.forecast.terminal_sg, labels)
            done.add(_time(judged.forecast.done_at), labels)
        if judged is not None and judged.phase is not None:
            for one in Phase:
                phase.add(float(one is judged.phase.phase), {**labels, phase.name: one.value})
        if judged is not None and judged.verdict is not None:
            for kind in VerdictKind:
                verdict.add(float(kind is judged.verdict.kind), {**labels, verdict.name: kind.value})
    yield from (batch, attenuation, ends, done, phase, verdict)


def _attenuation(lane: Lane) -> float | None:
    trend = None if lane.judgement is None else lane.judgement.trend
    return None if trend is None else trend.apparent_attenuation


def _timestamp(name: str, about: str) -> MetricFamily:
    return MetricFamily(f"{name}_timestamp_seconds", "gauge", about, "seconds")


def _ratio(name: str, about: str) -> MetricFamily:
    return MetricFamily(f"{name}_ratio", "gauge", about, "ratio")


def _time(at: datetime | None) -> float | None:
    return None if at is None else at.timestamp()


def _number(value: float) -> str:
    return str(int(value)) if float(value).is_integer() else repr(round(value, DIGITS))


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
