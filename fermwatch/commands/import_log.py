"""`fermwatch import`: take a recorded log and its batch into the store, as history of one of its fermenters."""

import argparse
import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path

from fermwatch.clock import to_ms
from fermwatch.commands import taking_in
from fermwatch.commands.context import Context
from fermwatch.commands.taking_in import Errand
from fermwatch.commands.watch import load_configuration
from fermwatch.contracts.inbox import Request
from fermwatch.contracts.store import Reader, StoredProbe
from fermwatch.desk import asking
from fermwatch.desk.opening import fermenters
from fermwatch.errors import InputError, LeaseTaken
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.believable import screen
from fermwatch.model.history import History
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import Reading
from fermwatch.replaying.input import FORMATS, GRAVITY, Row, read_batch, read_log
from fermwatch.replaying.replay import HAND
from fermwatch.requests.history import MOST_READINGS, SOON
from fermwatch.requests.shapes import Asked, EndingBatch, Happened, Measuring, Recorded
from fermwatch.watching.configured import declare
from fermwatch.watching.weighing import Weighing


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class, parser.epilog = argparse.RawDescriptionHelpFormatter, FORMATS
    parser.add_argument("log", type=Path, metavar="LOG.csv", help="time, probe, quantity, value: in order of arrival")
    parser.add_argument("--batch", type=Path, required=True, metavar="BATCH.toml", help="what was pitched, and events")
    parser.add_argument("--vessel", required=True, metavar="SLUG", help="the fermenter whose history it becomes")
    parser.add_argument("--end", action="store_true", help="the batch is over: end it once it is in")


def run(options: argparse.Namespace, context: Context) -> int:
    batch, events = read_batch(options.batch)
    rows = list(read_log(options.log))
    if not rows:
        raise InputError(f"{options.log}: it has no row.", hint="Export the log with its readings.")
    log = _Log(batch, events, rows, options.vessel)
    with _way(context) as (reader, way):
        errands = log.errands(reader, context.clock.now(), end=options.end)
        before = taking_in.run(errands, reader, way, partial(_request, context))
    again = f" {before} of {len(errands)} parts had been taken in before." if before else ""
    context.say(
        f"Taken in as {batch.name} of {options.vessel}: {log.readings} readings, {len(log.by_hand)} hydrometer "
        f"readings, {len(events)} events. Batch {log.batch_id}.{again}"
    )
    return 0


@contextlib.contextmanager
def _way(context: Context) -> Iterator[tuple[Reader, taking_in.Way]]:
    """Through the watcher where one runs; else the store is written here meanwhile."""
    store, now = context.open_store(), context.clock.now()
    try:
        writer = store.writer(now)
    except LeaseTaken:
        with store.reader() as reader:
            yield reader, taking_in.ThroughTheWatcher(reader, context)
        return
    with writer:
        if context.place.config is not None:  # as the watcher does at its start: there may never have been one
            declare(writer, load_configuration(context).config, now)
        yield writer, taking_in.Directly(writer, now)


def _request(context: Context, errand: Errand, identity: str) -> Request:
    now, site = context.clock.now(), context.place.site
    return asking.request(errand.asked, site=site, user=context.user, now=now, identity=identity)


class _Log:
    """A recorded log and its batch. Identities come from the content, so that nothing is taken in twice."""

    def __init__(self, batch: Batch, events: Sequence[Event], rows: Sequence[Row], vessel: str) -> None:
        self._batch, self._events, self._vessel = batch, events, vessel
        self._seed = f"{batch.name}|{batch.pitched_at.isoformat()}|{vessel}"
        self._rows: dict[Quantity, list[Row]] = {}
        for row in rows:
            if row.probe != HAND:
                self._rows.setdefault(_quantity(row), []).append(row)
        self.by_hand = [row for row in rows if row.probe == HAND and row.quantity == GRAVITY]
        self.batch_id = self._identity("batch", batch.pitched_at)

    @property
    def readings(self) -> int:
        return sum(len(rows) for rows in self._rows.values())

    def errands(self, reader: Reader, now: datetime, *, end: bool) -> list[Errand]:
        """What is to be asked, in this order. InputError where the fermenter cannot take the log, before any is."""
        self._check_times(now)
        self._check_fermenter(reader)
        asked = [self._errand(replace(self._batch, id=self.batch_id, vessel=self._vessel))]
        for index, event in enumerate(self._events):
            known = replace(event, id=self._identity(f"event {index}", self._batch.pitched_at))
            asked.append(self._errand(Happened(self.batch_id, known)))
        for index, row in enumerate(self.by_hand):
            measured = GravityMeasurement(self._identity(f"hand {index}", row.at), row.at, row.value)
            asked.append(self._errand(Measuring(self.batch_id, measured)))
        asked += self._parts(reader)
        if end:
            asked.append(self._errand(EndingBatch(self.batch_id)))
        return asked

    def _errand(self, asked: Asked) -> Errand:
        return Errand(asked, self._seed, self._batch.pitched_at)

    def _identity(self, what: str, at: datetime) -> str:
        return taking_in.identity(f"{self._seed}|{what}", at)

    def _parts(self, reader: Reader) -> Iterator[Errand]:
        """The readings, so many at a time, each weighed against those before it."""
        weighing = Weighing()
        weighing.know(reader)
        series = {one.probe.quantity: one.series for one in self._probes(reader)}
        listed = [(quantity, rows[part]) for quantity, rows in self._rows.items() for part in _parts_of(rows)]
        for index, (quantity, rows) in enumerate(listed):
            readings, levels = weighing.weighed([_reading(row, series[quantity]) for row in rows])
            weighing.believe(levels)
            yield self._errand(
                Recorded(
                    self._vessel,
                    quantity,
                    at_ms=tuple(one.at_ms for one in readings),
                    values=tuple(one.value for one in readings),
                    flags=tuple(int(one.flags) for one in readings),
                    last=index == len(listed) - 1,
                )
            )

    def _probes(self, reader: Reader) -> list[StoredProbe]:
        """The first of each quantity in the fermenter."""
        first: dict[Quantity, StoredProbe] = {}
        for one in reader.series():
            if one.probe.vessel == self._vessel:
                first.setdefault(one.probe.quantity, one)
        return list(first.values())

    def _check_times(self, now: datetime) -> None:
        times = [row.at for rows in (*self._rows.values(), self.by_hand) for row in rows]
        ahead = [at for at in (self._batch.pitched_at, *times) if at > now + SOON]
        if ahead:
            raise InputError(
                f"The log holds times that are yet to come: {min(ahead):%Y-%m-%d %H:%M} UTC, and now it is "
                f"{now:%Y-%m-%d %H:%M} UTC. Nothing was taken in.",
                hint="Mend its times, or the clock of this machine.",
            )

    def _check_fermenter(self, reader: Reader) -> None:
        if self._vessel not in [vessel.slug for vessel in reader.vessels()]:
            raise InputError(f"There is no fermenter {self._vessel!r:.60}.", hint=fermenters(reader))
        has = {one.probe.quantity: one for one in self._probes(reader)}
        for quantity in sorted(self._rows.keys() - has.keys()):
            raise InputError(
                f"The fermenter {self._vessel!r} has no {quantity} probe to put the log under.",
                hint="Add one to the configuration, and restart the watcher where one runs.",
            )
        history = History(reader.bindings())
        for quantity, rows in self._rows.items():
            self._refuse_elsewhere(history, has[quantity], rows)

    def _refuse_elsewhere(self, history: History, series: StoredProbe, rows: Sequence[Row]) -> None:
        """What a probe said while it was in another fermenter would be taken for that one's beer."""
        for row in rows:
            if (then := history.vessel(series.series, row.at)) != self._vessel:
                raise InputError(
                    f"On {row.at:%Y-%m-%d} the probe {series.probe.slug} was in {then or 'no fermenter'}, not in "
                    f"{self._vessel}: the log would be taken for another beer's.",
                    hint="Configure a probe of its own for what is imported, and restart the watcher where one runs.",
                )


def _reading(row: Row, series: int) -> Reading:
    quantity = _quantity(row)
    flags = screen(quantity, row.value, said=row.value, unit=CANONICAL_UNIT[quantity])
    return Reading(series, to_ms(row.at), row.value, lag_ms=1, flags=flags)


def _parts_of(rows: Sequence[Row]) -> Iterator[slice]:
    return taking_in.parts(len(rows), MOST_READINGS)


def _quantity(row: Row) -> Quantity:
    return Quantity.GRAVITY if row.quantity == GRAVITY else Quantity.BEER_TEMPERATURE
