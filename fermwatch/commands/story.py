"""The demo as plain text: what is found at its start, what happens, and how everything is in the end."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from fermwatch.alarms.life import TOLD
from fermwatch.contracts.feed import Freshness, Lane
from fermwatch.demo import running
from fermwatch.feed import open_feed
from fermwatch.model.amounts import gravity
from fermwatch.model.batch import Batch, GravityMeasurement
from fermwatch.model.subject import name_of
from fermwatch.report.status import status_text
from fermwatch.saying.voice import Units
from fermwatch.store import open_store
from fermwatch.watching.deciding import AlarmChange
from fermwatch_sim.cellar import Written
from fermwatch_sim.scenario import Scenario

WIDTH = 100


class Story:
    """Says each thing once, in the order in which it happened."""

    def __init__(self, scenario: Scenario, start: datetime, say: Callable[[str], None], units: Units) -> None:
        self._scenario, self._start, self._say, self._units = scenario, start, say, units
        self._names = {vessel.slug: vessel.name for vessel in scenario.vessels}

    def begin(self, broker: bool, batches: tuple[Batch, ...]) -> None:
        """Say what the story is, and how the readings come in."""
        of_their_own = {one.name for one in self._scenario.packaged}  # they have left their fermenters
        self._names |= {
            batch.id: batch.name if batch.name in of_their_own else self._names[batch.vessel] for batch in batches
        }
        ways = "a serial line and an MQTT broker" if broker else "a serial line (mosquitto is not installed)"
        self._say(f"{self._scenario.title}. {self._scenario.story}\nEverything is invented; readings come by {ways}.\n")

    def changed(self, at: datetime, changes: list[AlarmChange]) -> None:
        for change in changes:
            told = [one for one in change.transitions if one in TOLD]
            if told and not change.alarm.suppressed_by:
                self._line(
                    at, self._who(change.alarm.subject), f"{change.alarm.rule} {told[-1]}: {change.alarm.statement}"
                )

    def wrote(self, entry: Written) -> None:
        written = entry.written
        if isinstance(written, GravityMeasurement):
            self._line(written.at, self._names[entry.batch], f"by hand: hydrometer {gravity(written.gravity_sg)}")
        else:
            self._line(written.at, self._names[entry.batch], f"by hand: {written.text}")

    def end(self, directory: Path) -> None:
        """How everything stands when the stories are told: at the watcher's last sign of life."""
        store = open_store(directory.as_uri(), running.SITE)
        with store.reader() as reader:
            last = reader.watcher()
        feed = open_feed(store)
        try:
            snapshot = feed.snapshot(self._start if last is None else last.beat_at)
        finally:
            feed.close()
        watcher = None if snapshot.watcher is None else replace(snapshot.watcher, stopped=False)
        snapshot = replace(snapshot, watcher=watcher, lanes=tuple(_as_it_was(lane) for lane in snapshot.lanes))
        self._say("\nHow it ends:\n")
        self._say(status_text(snapshot, WIDTH, ascii=False, units=self._units))

    def _who(self, subject: str) -> str:
        slug = name_of(subject)
        return self._names.get(slug, slug)

    def _line(self, at: datetime, who: str, text: str) -> None:
        hours = (at - self._start).total_seconds() / 3600
        self._say(f"{hours:+5.1f} h  {who:<18} {text}")


def _as_it_was(lane: Lane) -> Lane:
    """The last picture, of a moment at which the watcher that has ended since was still listening."""
    heard = (
        replace(one, freshness=Freshness.LIVE) if one.freshness is Freshness.CUT_OFF else one for one in lane.probes
    )
    return replace(lane, probes=tuple(heard))
