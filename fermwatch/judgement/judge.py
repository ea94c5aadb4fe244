"""The way in: takes what was read, measured and done, and says what is to be said of the batch at any later instant.

What is said depends only on the set of what was added, never on the order of it: the batch is walked bin by bin in time
order, each step resting on what was taken before its end; something that belongs into an earlier bin lets the walk go
back there. So a watcher that starts again from its store says the same.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from fermwatch.clock import EPOCH
from fermwatch.judgement import added, bottling, filtering, gates, packaging, phase, stall
from fermwatch.judgement.ends import OwnEnd
from fermwatch.judgement.facts import Facts, Happening, facts_of, happening_of
from fermwatch.judgement.forecast import Outlook, look_ahead
from fermwatch.judgement.kalman import Estimate
from fermwatch.judgement.preprocess import (
    Array,
    Bin,
    RecentGravity,
    plausible_gravity,
    plausible_temperature,
    probe_heard,
)
from fermwatch.judgement.probe_offset import ProbeOffset, probe_offset
from fermwatch.judgement.series import Series
from fermwatch.judgement.settings import BIN_H, JudgeSettings
from fermwatch.judgement.statement import Step, judgement_of, said_at
from fermwatch.judgement.stillness import HandReading
from fermwatch.judgement.view import FirstBins, View, last_measured
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.judgement import Judgement
from fermwatch.science.pressure_risk import FermentableLeft
from fermwatch.science.solubility import ATMOSPHERE_BAR

FORECAST_FROM_H = 36.0
FORECAST_EVERY_H = 6.0
LONGEST_H = 24.0 * 730
HOUR_US = 3_600_000_000
READING_SD_LEAST, READING_SD_MOST = 0.2, 20.0  # points: nothing read by hand is surer, nothing worse is a reading


def _within_reason(sd: float) -> float:
    return min(max(sd, READING_SD_LEAST), READING_SD_MOST) if math.isfinite(sd) else READING_SD_MOST


class Judge:
    """Judges one batch. Cheap between the ends of two bins: then it says again what it said."""

    def __init__(self, batch: Batch, settings: JudgeSettings | None = None) -> None:
        self._batch = batch
        self._settings = settings or JudgeSettings()
        self._gravity = Series()
        self._temperature = Series()
        self._measurements: dict[str, HandReading] = {}
        self._events: dict[str, Happening] = {}
        self._voided: set[str] = set()
        self._own: tuple[OwnEnd, ...] = ()
        self._air_bar = ATMOSPHERE_BAR
        self._in_order: tuple[list[HandReading], list[Happening]] | None = None
        self._steps: list[Step] = []
        self._bins: list[Bin] = []  # of all steps; each looks at the first of them
        self._facts: dict[int, Facts] = {}
        self._said: tuple[int, Judgement] | None = None
        self._outlook: tuple[int, Outlook] | None = None
        self._at_once: tuple[object, Judgement] | None = None
        self._latest: Step | None = None

    def add_gravity(self, at: datetime, gravity_sg: float) -> None:
        """A probe's reading, calibrated, not corrected for temperature."""
        hour, points = self._hour(at), (gravity_sg - 1.0) * 1000.0
        if self._within(hour) and plausible_gravity(points) and self._gravity.add(hour, points):
            self._go_back_to(hour)

    def add_temperature(self, at: datetime, temperature_c: float) -> None:
        """The beer's temperature."""
        hour = self._hour(at)
        if self._within(hour) and plausible_temperature(temperature_c) and self._temperature.add(hour, temperature_c):
            self._go_back_to(hour)

    def add_gravities(self, at_ms: Sequence[int], gravity_sg: Sequence[float]) -> None:
        """Many of them at once; instants in milliseconds since 1970."""
        with np.errstate(over="ignore"):  # what a device says may be anything; what is implausible is left out below
            points = (np.array(gravity_sg, dtype=np.float64) - 1.0) * 1000.0
        self._take_in(self._gravity, at_ms, points, plausible_gravity(points))

    def add_temperatures(self, at_ms: Sequence[int], temperature_c: Sequence[float]) -> None:
        """Many of them at once; instants in milliseconds since 1970."""
        celsius = np.array(temperature_c, dtype=np.float64)
        self._take_in(self._temperature, at_ms, celsius, plausible_temperature(celsius))

    def _take_in(self, series: Series, at_ms: Sequence[int], values: Array, plausible: NDArray[np.bool_]) -> None:
        pitched_us = (self._batch.pitched_at - EPOCH) // timedelta(microseconds=1)
        hours = (np.array(at_ms, dtype=np.int64) * 1000 - pitched_us) / HOUR_US
        kept = plausible & (hours >= 0.0) & (hours <= LONGEST_H)
        first = series.add_many(hours[kept], values[kept])
        if first is not None:
            self._go_back_to(first)

    def add_measurement(self, measurement: GravityMeasurement) -> None:
        """A hand measurement, corrected to 20 °C. One with gas in it says little: gas lifts the hydrometer."""
        if measurement.voided:
            self.void(measurement.id)
            return
        hour, points = self._hour(measurement.at), (measurement.gravity_sg - 1.0) * 1000.0
        sd = _within_reason(measurement.sd_points)
        instrument, sample_c = str(measurement.instrument), measurement.sample_temperature_c
        reading = HandReading(measurement.id, hour, points, sd, measurement.level_known, instrument, sample_c)
        if self._within(hour) and plausible_gravity(points) and self._measurements.get(measurement.id) != reading:
            self._measurements[measurement.id] = reading
            self._said_anew(hour)

    def add_event(self, event: Event) -> None:
        if event.voided:
            self.void(event.id)
            return
        happening = happening_of(event, self._batch.pitched_at)
        if self._events.get(event.id) != happening:
            self._events[event.id] = happening
            self._said_anew(happening.hour)

    def void(self, identity: str) -> None:
        """Take a measurement or an event back: it never was."""
        if identity not in self._voided:
            self._voided.add(identity)
            known = self._measurements.get(identity) or self._events.get(identity)
            self._said_anew(known.hour if known else float("inf"))

    def know_own_ends(self, own: Sequence[OwnEnd]) -> None:
        """Where the brewer's earlier batches of this yeast ended, the newest first."""
        if self._own != tuple(own):
            self._own = tuple(own)
            self._said_anew(0.0)

    def know_the_air(self, air_bar: float) -> None:
        """How hard the air presses where it ferments, bar."""
        if self._air_bar != air_bar:
            self._air_bar = air_bar
            self._said_anew(0.0)

    def judge(self, now: datetime) -> Judgement:
        """What is to be said at `now`, resting on every whole bin before it."""
        count = int(min(self._hour(now), LONGEST_H) / BIN_H + 1e-9)
        if count <= 0:
            return Judgement(self._batch.pitched_at)
        if self._said is not None and self._said[0] == count and len(self._steps) >= count:
            return self._said[1]
        self._walk(count)
        steps = self._steps[:count]
        judged = judgement_of(self._batch, steps, self._look_ahead(steps))
        self._said, self._latest = (count, judged), steps[-1]
        return judged

    def judge_at_once(self, now: datetime) -> Judgement:
        """The same, with what people measured and did since the last whole bin: nobody waits hours for their reading.

        The bin that has begun is judged as if nothing came after the last of that; nothing of it is kept.
        """
        judged = self.judge(now)
        hour = self._hour(now)
        count = int(min(hour, LONGEST_H) / BIN_H + 1e-9)
        begun_h = count * BIN_H
        said: tuple[HandReading | Happening, ...] = (*self._readings, *self._happenings)
        news = tuple(one for one in said if begun_h <= one.hour <= hour)
        if hour < 0.0:
            return judged
        if not news:
            return self._first_heard(judged, count, hour)
        newest_h = max(one.hour for one in news)
        heard = self._gravity.count_before(newest_h), self._temperature.count_before(newest_h)
        if self._at_once is None or self._at_once[0] != (count, news, heard):
            window = RecentGravity.before(self._gravity, newest_h)
            step = self._step(count, window, self._bins[:count])
            steps = [*self._steps[:count], step]
            newest = self._batch.pitched_at + timedelta(hours=newest_h)
            judged = judgement_of(self._batch, steps, self._look_ahead(steps, kept=False))
            self._at_once, self._latest = ((count, news, heard), said_at(judged, newest)), step
        return self._at_once[1]

    def _first_heard(self, judged: Judgement, count: int, hour: float) -> Judgement:
        """The same, with that a first gravity is heard: a whole bin of it is judged, and it is not denied before."""
        heard = [] if judged.trend is not None else self._gravity.between(count * BIN_H, hour + 1e-9)
        if not heard or not count:
            return judged
        if self._at_once is None or self._at_once[0] != (count, heard[0]):
            view = replace(self._steps[count - 1].view, heard_since_h=heard[0][0])
            step = _judged(view, self._steps[count - 2] if count > 1 else None)
            steps = [*self._steps[: count - 1], step]
            self._at_once = (count, heard[0]), judgement_of(self._batch, steps, self._look_ahead(steps))
        return self._at_once[1]

    def left(self) -> FermentableLeft:
        """What could still ferment in a bottle, by what was judged last; of wort not judged yet, all that may."""
        if self._latest is None:
            return packaging.all_left(self._facts_before(math.inf))
        return self._latest.verdict.left_when_safe or packaging.left_now(self._latest.view)

    def settled_at(self) -> datetime | None:
        """From when it has been finished, as judged last; None while it is not."""
        hour = None if self._latest is None else phase.settled_h(self._latest.phase)
        return None if hour is None else self._batch.pitched_at + timedelta(hours=hour)

    def _look_ahead(self, steps: Sequence[Step], *, kept: bool = True) -> Outlook | None:
        """The forecast, made anew every six hours: it moves slowly and costs most.

        kept: whether all of these are whole bins; what one that has begun lets expect is not said once it is whole.
        """
        every = int(FORECAST_EVERY_H / BIN_H)
        last = len(steps) - len(steps) % every
        if last * BIN_H < FORECAST_FROM_H:
            return None
        whole = kept or last < len(steps)
        if whole and self._outlook is not None and self._outlook[0] == last:
            return self._outlook[1]
        outlook = look_ahead(steps[last - 1].view)
        if whole:
            self._outlook = (last, outlook)
        return outlook

    def _walk(self, count: int) -> None:
        while len(self._steps) < count:
            index = len(self._steps)
            end_h = (index + 1) * BIN_H
            window = RecentGravity.before(self._gravity, end_h)
            stuck_since = window.stuck_since(end_h - BIN_H)
            first = index if stuck_since is None else min(index, int(stuck_since / BIN_H))
            if stuck_since is not None and not self._counted_as_good(first, index, window):
                first = index
            del self._steps[first:]
            self._forget_outlook(first)
            for place in range(first, index + 1):
                self._steps.append(self._step(place, window, self._bins))

    def _counted_as_good(self, first: int, index: int, window: RecentGravity) -> bool:
        """Whether an earlier bin rests on readings that now prove to be of a stuck float."""
        return any(
            self._steps[place].view.bins[-1].readings
            != window.bin((place + 1) * BIN_H, self._temperature, 0.0).readings
            for place in range(first, index)
        )

    def _step(self, index: int, window: RecentGravity, bins: list[Bin]) -> Step:
        """One bin further: the bin becomes the last of `bins`."""
        end_h = (index + 1) * BIN_H
        facts = self._facts_before(end_h)
        middle_c = (facts.temperature_low_c + facts.temperature_high_c) / 2.0
        latest = window.bin(end_h, self._temperature, middle_c)
        before = self._steps[index - 1] if index else None
        readings = [reading for reading in self._readings if reading.hour < end_h]
        happened = [h for h in self._happenings if end_h - BIN_H <= h.hour < end_h]
        del bins[index:]
        bins.append(latest)
        probe = probe_offset(FirstBins(bins, index + 1), readings, self._facts_before(0.0))
        known = before is not None and before.view.probe == probe
        estimate, apart = self._advance(before.view.estimate if before and known else None, bins, index, probe)
        if apart is None:
            apart = before.view.apart if before else 0.0
        measured = last_measured(
            before.view.measured if before else None, latest, readings, estimate, self._original_at
        )
        level, sugar, pending = (
            (before.view.shown_gravity, before.view.added, before.view.added_left)
            if before
            else (facts.original, None, 0.0)
        )
        sugar = added.after(sugar, pending, level, happened, self._batch.volume_l)
        shared = FirstBins(bins, index + 1)
        view = View(end_h, shared, readings, estimate, facts, self._settings, apart, measured, added=sugar, probe=probe)
        return _judged(view, before)

    def _advance(
        self, before: Estimate | None, bins: Sequence[Bin], index: int, probe: ProbeOffset
    ) -> tuple[Estimate, float | None]:
        """One bin further; from the pitch on where nothing is known before it, or of another offset of the probe."""
        first = index if before is not None else 0
        for place in range(first, index):
            before, _ = self._advance_by(before, bins, place, probe)
        return self._advance_by(before, bins, index, probe)

    def _advance_by(
        self, before: Estimate | None, bins: Sequence[Bin], index: int, probe: ProbeOffset
    ) -> tuple[Estimate, float | None]:
        end_h = (index + 1) * BIN_H
        happened = [h for h in self._happenings if end_h - BIN_H <= h.hour < end_h]
        facts, readings = self._facts_before(end_h), self._readings
        return filtering.advance(
            *(before, facts, self._settings, bins[index], readings, happened, self._batch.volume_l, probe),
            probed=probe_heard(FirstBins(bins, index + 1)),
        )

    def _facts_before(self, hour: float) -> Facts:
        done = [happening for happening in self._happenings if happening.hour < hour]
        if len(done) not in self._facts:
            self._facts[len(done)] = facts_of(self._batch, done, self._own, self._air_bar)
        return self._facts[len(done)]

    def _original_at(self, hour: float) -> float:
        """Points, with what was added until then."""
        return self._facts_before(math.nextafter(hour, math.inf)).original

    def _go_back_to(self, hour: float) -> None:
        """Forget what was concluded from the bin of this hour on."""
        index = int(hour / BIN_H) if hour < LONGEST_H else len(self._steps)
        if index < len(self._steps):
            del self._steps[index:]
            self._said = self._at_once = self._latest = None
            self._forget_outlook(index)

    def _forget_outlook(self, index: int) -> None:
        """What rests on the bin of this index."""
        if self._outlook is not None and self._outlook[0] > index:
            self._outlook = None

    def _hour(self, at: datetime) -> float:
        return (at - self._batch.pitched_at) / timedelta(hours=1)

    @staticmethod
    def _within(hour: float) -> bool:
        return 0.0 <= hour <= LONGEST_H

    @property
    def _readings(self) -> list[HandReading]:
        return self._ordered()[0]

    @property
    def _happenings(self) -> list[Happening]:
        return self._ordered()[1]

    def _ordered(self) -> tuple[list[HandReading], list[Happening]]:
        """What was said and not voided, in time order; sorted once for however much was said."""
        if self._in_order is None:
            kept = [m for m in self._measurements.values() if m.id not in self._voided]
            done = [h for h in self._events.values() if h.id not in self._voided]
            self._in_order = (
                sorted(kept, key=lambda m: (m.hour, m.id)),
                sorted(done, key=lambda h: (h.hour, h.id)),
            )
        return self._in_order

    def _said_anew(self, hour: float) -> None:
        self._in_order = None
        self._facts.clear()
        self._go_back_to(hour)


def _judged(view: View, before: Step | None) -> Step:
    phase_memory = phase.step(
        before.phase if before else phase.PhaseMemory(),
        view,
        stall.check(view.bins, view.estimate, view.facts, view.since_restart()),
    )
    said = before.verdict if before else bottling.VerdictMemory()
    shown = None if bottling.changed_since_safe(said, view) else said.left_when_safe
    risk = packaging.risk_of(view, shown, phase.settled_h(phase_memory))
    checked = gates.check(view, phase_memory, still_h=said.still_h, risk=risk)
    verdict = bottling.step(said, view, phase_memory, checked)
    return Step(view, phase_memory, verdict, checked)
