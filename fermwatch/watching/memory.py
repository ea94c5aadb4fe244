"""What was heard of late: samples and newest readings by series, and the sources' states. Out of it a rule's situation
is made. Time is given; nothing here reads a clock or writes anything.
"""

import logging
from bisect import bisect_right
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from fermwatch.brewing.bottle_store import store_series
from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.store import ControllerStatus, Past, SourceState, SourceStatus, StoredProbe
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch, Event
from fermwatch.model.believable import believable
from fermwatch.model.conditioning import Stood
from fermwatch.model.degree import Output
from fermwatch.model.history import NOWHERE, History
from fermwatch.model.judgement import Judgement
from fermwatch.model.packaging import packaging_of
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Flag, Reading
from fermwatch.rules.situation import WINDOW, GoodReading, ProbeState, Situation
from fermwatch.units import doubt

log = logging.getLogger("fermwatch")

LEAST_FRESH_S, MOST_FRESH_S = 60.0, 300.0  # how old what is driven by may be


class Memory:
    """What the rules need to know of the last hours."""

    def __init__(self, tell: Callable[[str], None] = log.warning) -> None:
        """tell: what to do with a remark about a reading that is not to be believed."""
        self._tell = tell
        self.series: dict[int, StoredProbe] = {}
        self.sources: dict[str, SourceStatus] = {}
        self._history = History()
        self._recent: dict[int, list[GoodReading]] = {}
        self._newest: dict[int, Reading] = {}
        self._now: datetime | None = None
        self._ahead = timedelta()

    def time_is(self, now: datetime, ahead: timedelta = timedelta(), moved: timedelta = timedelta()) -> None:
        """The deciding instant, how far the wall's clock is ahead of it, and by how much it was just moved."""
        self._now, self._ahead = now, ahead
        if moved:
            self._shift(moved)

    def recall(self, store: Past, now: datetime) -> None:
        """Read back what is needed to go on as if never interrupted."""
        self.know_the_probes(store)
        self._recent, self._newest = {}, {}
        for number in self.series:
            for reading in store.readings(number, now - WINDOW, now + timedelta(days=1)):
                self.remember(reading)
        for number, latest in store.latest().items():
            if number in self.series and not latest.last_known and number not in self._newest:
                at_ms = round(latest.at.timestamp() * 1000)
                self._newest[number] = Reading(number, at_ms, latest.value, flags=latest.flags)

    def know_the_probes(self, store: Past) -> None:
        """Which there are, and what they serve; what was heard of them stays."""
        self.series = {one.series: one for one in store.series()}
        self._history = History(store.bindings())

    def remember(self, reading: Reading) -> None:
        """A reading that is stored; one of no probe that is configured is none of ours."""
        if reading.series not in self.series or reading.flags & Flag.AHEAD:
            return
        self._tell_of_flag(reading)
        heard = self._in_deciding_time(reading)
        newest = self._newest.get(reading.series)
        if newest is None or heard.at_ms >= newest.at_ms:
            self._newest[reading.series] = heard
        at = from_ms(reading.at_ms)
        elsewhere = self._history.vessel(reading.series, at) != self.series[reading.series].probe.vessel
        if elsewhere or not believable(reading.flags):
            return
        samples = self._recent.setdefault(reading.series, [])
        sample = GoodReading(from_ms(heard.at_ms), self._history.calibrated(reading.series, at, reading.value))
        samples.insert(bisect_right(samples, sample.at, key=lambda one: one.at), sample)
        if len(samples) > 64 and samples[-1].at - samples[0].at > 2 * WINDOW:
            del samples[: bisect_right(samples, samples[-1].at - WINDOW, key=lambda one: one.at)]

    def _in_deciding_time(self, reading: Reading) -> Reading:
        """While the wall's clock is not believed, a reading stands under its time or under ours: the nearer one is
        meant. A device has a clock of its own, and what was heard before the jump knows nothing of it.
        """
        if self._now is None or not self._ahead:
            return reading
        ours = replace(reading, at_ms=reading.at_ms - self._ahead // timedelta(milliseconds=1))
        now_ms = to_ms(self._now)
        return min(reading, ours, key=lambda one: abs(one.at_ms - now_ms))

    def _shift(self, by: timedelta) -> None:
        """What is remembered moves along with a clock that was set, so that the jump is no silence."""
        for number, samples in self._recent.items():
            self._recent[number] = [GoodReading(one.at + by, one.value) for one in samples]
        milliseconds = by // timedelta(milliseconds=1)
        for number, newest in self._newest.items():
            self._newest[number] = replace(newest, at_ms=newest.at_ms + milliseconds)

    def situation(
        self,
        vessel: str,
        now: datetime,
        *,
        batch: Batch | None = None,
        judgement: Judgement | None = None,
        events: tuple[Event, ...] = (),
        controller: ControllerStatus | None = None,
    ) -> Situation:
        """All that a rule may look at, for one fermenter."""
        numbers = [number for number in self.series if self.series[number].probe.vessel == vessel]
        began = now - WINDOW
        if batch is not None and batch.pitched_at <= now:  # else the clock was set back, and says nothing of the pitch
            began = max(began, batch.pitched_at - timedelta.resolution)  # before the pitch, another beer was in it
        return Situation(
            now=now,
            vessel=vessel,
            batch=batch,
            judgement=judgement,
            events=events,
            beer=self._samples(numbers, Quantity.BEER_TEMPERATURE, began, now),
            set_point=self._samples(numbers, Quantity.SET_POINT, now - WINDOW, now),
            air=self._samples(numbers, Quantity.AIR_TEMPERATURE, now - WINDOW, now),
            cool=self._samples([one for one in numbers if not self._heats(one)], Quantity.OUTPUT, now - WINDOW, now),
            heat=self._samples([one for one in numbers if self._heats(one)], Quantity.OUTPUT, now - WINDOW, now),
            controller=controller,
            probes=tuple(self._probe_state(number, now) for number in numbers),
        )

    def _heats(self, number: int) -> bool:
        """An output whose channel is called so; every other one cools."""
        return self.series[number].probe.channel == Output.HEAT

    def last_good(self, vessel: str, quantity: Quantity, now: datetime) -> GoodReading | None:
        """The newest believable reading, if it is no older than three times its probe's interval; None else."""
        for number, one in self.series.items():
            if one.probe.quantity is quantity and one.probe.vessel == vessel and (heard := self._recent.get(number)):
                fresh_s = min(max(3.0 * one.probe.every_s, LEAST_FRESH_S), MOST_FRESH_S)
                newest = heard[-1]
                if timedelta() <= now - newest.at <= timedelta(seconds=fresh_s):
                    return newest
        return None

    def in_package(self, batch: Batch, now: datetime, events: tuple[Event, ...], stood: tuple[Stood, ...]) -> Situation:
        """The same for a beer that has left its fermenter: what is heard from there is none of its."""
        packaging = packaging_of(events)
        there = None if packaging is None else store_series(tuple(self.series.values()), packaging.stands_by)
        store = () if there is None else self._samples([there.series], Quantity.STORE_TEMPERATURE, now - WINDOW, now)
        return Situation(now=now, vessel=batch.vessel, batch=batch, events=events, store=store, stood=stood)

    def bottle_store(self, now: datetime, packaged: Batch | None) -> Situation:
        """For the probes that are on no fermenter; `packaged`: one of the beers that stand there."""
        numbers = [number for number in self.series if self.series[number].probe.vessel == NOWHERE]
        probes = tuple(self._probe_state(number, now) for number in numbers)
        return Situation(now=now, vessel=NOWHERE, batch=packaged, probes=probes)

    def _samples(
        self, numbers: Sequence[int], quantity: Quantity, began: datetime, now: datetime
    ) -> tuple[GoodReading, ...]:
        """The window's good samples of one quantity; where several probes measure it, of the first that was heard."""
        for number in numbers:
            if self.series[number].probe.quantity is quantity:
                samples = tuple(one for one in self._recent.get(number, ()) if began < one.at <= now)
                if samples:
                    return samples
        return ()

    def mute(self, now: datetime, vessels: Collection[str] | None = None) -> dict[str, tuple[str, ...]]:
        """The probes of each source all of whose probes, two at least, have fallen silent: that is one cause.

        vessels: of the sources alone that have a probe in one of these.
        """
        heard: dict[str, list[ProbeState]] = {}
        wanted = {one.probe.source for one in self.series.values() if vessels is None or one.probe.vessel in vessels}
        for number, one in self.series.items():
            state = self._plain_state(number)
            if state.last_at is not None and one.probe.source in wanted:
                heard.setdefault(one.probe.source, []).append(state)
        return {
            source: tuple(state.slug for state in states)
            for source, states in heard.items()
            if len(states) > 1 and all(state.silent(now) for state in states)
        }

    def _probe_state(self, number: int, now: datetime) -> ProbeState:
        """As it is now, and whether its silence is its source's: lost, mute, or back for too short a while to tell."""
        state = self._plain_state(number)
        source = self.sources.get(state.source)
        if source is None:
            return state
        back = source.state is SourceState.CONNECTED and state.last_at is not None and state.last_at < source.since
        just_back = back and now - source.since < timedelta(seconds=state.silent_after_s)
        lost = source.state in {SourceState.UNAVAILABLE, SourceState.REFUSED}
        return replace(state, source_lost=lost or just_back or state.source in self.mute(now))

    def _plain_state(self, number: int) -> ProbeState:
        probe, newest = self.series[number].probe, self._newest.get(number)
        return ProbeState(
            slug=probe.slug,
            quantity=probe.quantity,
            silent_after_s=probe.silent_after_s,
            last_at=None if newest is None else from_ms(newest.at_ms),
            flagged="" if newest is None else self._standing_doubt(newest),
            source=probe.source,
        )

    def _standing_doubt(self, newest: Reading) -> str:
        """A jump is over by itself: either it was a glitch, or it is soon believed. It is no fault to be called for."""
        return "" if newest.flags & Flag.JUMP else self._doubt(newest)

    def _doubt(self, reading: Reading) -> str:
        return doubt(reading.flags, self.series[reading.series].probe, reading.value)

    def _tell_of_flag(self, reading: Reading) -> None:
        """What is not to be believed is said once, when it begins."""
        before = self._newest.get(reading.series)
        why = self._doubt(reading)
        if why and (before is None or not self._doubt(before)):
            slug = self.series[reading.series].probe.slug
            self._tell(f"{slug}: {plain(why)}; it is kept, and not judged by. Check the probe's wiring and unit.")
