"""`fermwatch import`: take a recorded log and its batch into the store, as history of one of its fermenters."""

import argparse
import hashlib
from collections.abc import Iterator, Mapping
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from fermwatch.clock import to_ms
from fermwatch.commands.context import Context
from fermwatch.contracts.inbox import OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Series
from fermwatch.errors import InputError, LeaseTaken, RequestRefused
from fermwatch.ids import new_ulid
from fermwatch.model.batch import Batch, GravityMeasurement
from fermwatch.model.believable import screen
from fermwatch.model.history import History
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import Reading
from fermwatch.plain_data import to_plain
from fermwatch.replay import HAND
from fermwatch.replay_input import FORMATS, GRAVITY, Row, read_batch, read_log
from fermwatch.store.writer import SqliteWriter, open_writer
from fermwatch.watching.weighing import Weighing

CHUNK = 2000


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class, parser.epilog = argparse.RawDescriptionHelpFormatter, FORMATS
    parser.add_argument("log", type=Path, metavar="LOG.csv", help="time, probe, quantity, value: in order of arrival")
    parser.add_argument("--batch", type=Path, required=True, metavar="BATCH.toml", help="what was pitched, and events")
    parser.add_argument("--vessel", required=True, metavar="SLUG", help="the fermenter whose history it becomes")
    parser.add_argument("--end", action="store_true", help="the batch is over: end it once it is in")


def run(options: argparse.Namespace, context: Context) -> int:
    now = context.clock.now()
    batch, events = read_batch(options.batch)
    rows = list(read_log(options.log))
    if not rows:
        raise InputError(f"{options.log}: it has no row.", hint="Export the log with its readings.")
    place = context.place
    writer = _writer(place.store, place.site, now)
    try:
        known = [vessel.slug for vessel in writer.vessels()]
        if options.vessel not in known:
            hint = f"There is: {', '.join(known)}." if known else "The configuration names none yet: add a [[vessel]]."
            raise InputError(f"There is no fermenter {options.vessel!r:.60}.", hint=hint)
        taker = _Taker(writer, place.site, context.user, now, options.vessel)
        counts = taker.take(batch, [to_plain(event) for event in events], rows)
        if options.end:
            taker.ask(RequestKind.END_BATCH, {"id": taker.batch_id}, "end")
    finally:
        writer.close()
    stored, duplicates, measured = counts
    context.say(
        f"Taken in as {batch.name} of {options.vessel}: {stored} readings ({duplicates} were there already), "
        f"{measured} hydrometer readings, {len(events)} events. Batch {taker.batch_id}."
    )
    return 0


def _writer(store: Path, site: str, now: datetime) -> SqliteWriter:
    try:
        return open_writer(store, site, now)
    except LeaseTaken as error:
        raise LeaseTaken(
            f"{error.message} Nothing was taken in.",
            hint="Stop the watcher first (systemctl stop fermwatch), import, start it again.",
        ) from None


class _Taker:
    """Takes one log into the store. Identities come from the content, so that nothing is taken in twice."""

    def __init__(self, writer: SqliteWriter, site: str, user: str, now: datetime, vessel: str) -> None:
        self._writer, self._site, self._user, self._now, self._vessel = writer, site, user, now, vessel
        self.batch_id = ""

    def take(self, batch: Batch, events: list[Any], rows: list[Row]) -> tuple[int, int, int]:
        """Readings stored, readings that were there already, hydrometer readings."""
        series = self._series(rows)
        self._seed = f"{batch.name}|{batch.pitched_at.isoformat()}|{self._vessel}"
        self.batch_id = self._identity("batch", batch.pitched_at)
        opened = to_plain(batch)
        if not isinstance(opened, dict):
            raise TypeError("a batch is an object")
        self.ask(RequestKind.OPEN_BATCH, {**opened, "id": self.batch_id, "vessel": self._vessel}, "open")
        for index, event in enumerate(events):
            known = {**event, "id": self._identity(f"event {index}", batch.pitched_at)}
            self.ask(RequestKind.EVENT, {"batch": self.batch_id, "event": known}, f"event {index}")
        hand = [row for row in rows if row.probe == HAND and row.quantity == GRAVITY]
        for index, row in enumerate(hand):
            measured = GravityMeasurement(self._identity(f"hand {index}", row.at), row.at, row.value)
            payload = {"batch": self.batch_id, "measurement": to_plain(measured)}
            self.ask(RequestKind.MEASURE, payload, f"hand {index}")
        stored, duplicates = self._append(row for row in rows if row.probe != HAND) if series else (0, 0)
        return stored, duplicates, len(hand)

    def ask(self, kind: RequestKind, payload: Mapping[str, Any], what: str) -> None:
        """Carry out what a person would ask for; RequestRefused with the store's reason."""
        request = Request(self._identity(f"ask {what}", self._now), self._site, kind, payload, self._user, self._now)
        outcome = self._writer.apply(request, self._now)
        if outcome.state is not OutcomeState.DONE:
            raise RequestRefused(outcome.reason)

    def _identity(self, what: str, at: datetime) -> str:
        return new_ulid(to_ms(at), hashlib.sha256(f"{self._seed}|{what}".encode()).digest()[:10])

    def _series(self, rows: list[Row]) -> dict[Quantity, Series]:
        wanted = {_quantity(row) for row in rows if row.probe != HAND}
        has = {one.probe.quantity: one for one in self._writer.series() if one.probe.vessel == self._vessel}
        for quantity in sorted(wanted - has.keys()):
            known = ", ".join(vessel.slug for vessel in self._writer.vessels()) or "none"
            hint = f"Add one to the configuration and run `fermwatch watch` once. Fermenters: {known}."
            raise InputError(f"The fermenter {self._vessel!r} has no {quantity} probe to put the log under.", hint=hint)
        for quantity in wanted:
            self._refuse_elsewhere(
                has[quantity], [row for row in rows if row.probe != HAND and _quantity(row) is quantity]
            )
        self._has = has
        return {quantity: has[quantity] for quantity in wanted}

    def _refuse_elsewhere(self, series: Series, rows: list[Row]) -> None:
        """What a probe said while it was in another fermenter would be taken for that one's beer."""
        history = History(self._writer.bindings())
        for row in rows:
            if (then := history.vessel(series.series, row.at)) != self._vessel:
                raise InputError(
                    f"On {row.at:%Y-%m-%d} the probe {series.probe.slug} was in {then or 'no fermenter'}, not in "
                    f"{self._vessel}: the log would be taken for another beer's.",
                    hint="Configure a probe of its own for what is imported, and run `fermwatch watch` once.",
                )

    def _append(self, rows: Iterator[Row]) -> tuple[int, int]:
        stored = duplicates = 0
        weighing = Weighing()
        weighing.know(self._writer)
        while chunk := [self._reading(row) for row in islice(rows, CHUNK)]:
            readings, levels = weighing.weighed(chunk)
            appended = self._writer.append(readings)
            weighing.believe(levels)
            stored, duplicates = stored + appended.stored, duplicates + appended.duplicates
        return stored, duplicates

    def _reading(self, row: Row) -> Reading:
        quantity = _quantity(row)
        at_ms = to_ms(row.at)
        lag_ms = max(to_ms(self._now) - at_ms, 1)
        flags = screen(quantity, row.value, said=row.value, unit=CANONICAL_UNIT[quantity])
        return Reading(self._has[quantity].series, at_ms, row.value, lag_ms, flags=flags)


def _quantity(row: Row) -> Quantity:
    return Quantity.GRAVITY if row.quantity == GRAVITY else Quantity.BEER_TEMPERATURE
