"""Readings stored of late, so that one delivered again is known even where no device time tells.

A device's running number tells a reading, whenever and in whichever message it comes. A broker repeats a message under
the same identifier until it is acknowledged, also after the watcher was killed between commit and acknowledgement:
what is remembered is therefore part of the store, and bounded. Identifiers mean nothing beyond the broker's session:
they are forgotten with it.
"""

import sqlite3
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from fermwatch.model.reading import Reading

REMEMBERED = 8_192  # more readings than a broker may have in flight (Receive Maximum 1,000)
# A board that starts anew counts from the beginning again, and beer stays as warm as it was: a number that comes again
# later than this is another reading, unless the broker says that it sends it again.
REPEATED_MS = timedelta(minutes=10) // timedelta(milliseconds=1)

MESSAGE, SEQUENCE = 0, 1

_ALL = "SELECT turn, series, kind, number, value, received_ms FROM delivery WHERE site = ? ORDER BY turn"
_REMEMBER = "INSERT INTO delivery (site, turn, series, kind, number, value, received_ms) VALUES (?, ?, ?, ?, ?, ?, ?)"
_FORGET = "DELETE FROM delivery WHERE site = ? AND turn <= ?"
_FORGET_MESSAGES = "DELETE FROM delivery WHERE site = ? AND kind = 0 AND series = ?"

_INT64 = (1 << 63) - 1

DeliveryKey = tuple[int, int, int]  # series, kind, number


@dataclass(frozen=True, slots=True)
class ToldValue:
    value: float
    received_ms: int


DeliveriesTold = dict[DeliveryKey, ToldValue]


class Deliveries:
    """What the store remembers of a site's readings, held in memory to be asked for every one."""

    def __init__(self, connection: sqlite3.Connection, site: str) -> None:
        self._site = site
        self._heard: DeliveriesTold = {}
        self._turn = 0
        for turn, series, kind, number, value, received_ms in connection.execute(_ALL, (site,)):
            self._learn((series, kind, number), ToldValue(value, received_ms))
            self._turn = turn

    def sift(
        self, readings: Sequence[Reading], new_sessions: Collection[int] = ()
    ) -> tuple[list[Reading], DeliveriesTold]:
        """Without those delivered again; and what is to be remembered of the rest. new_sessions: series whose broker
        has no session of before."""
        fresh: list[Reading] = []
        heard: DeliveriesTold = {}
        for reading in readings:
            key = _key(reading)
            if key is not None:
                told = ToldValue(reading.value, reading.at_ms + reading.lag_ms)
                if _is_again(reading, told, self._known(key, heard, new_sessions)):
                    continue
                heard[key] = told
            fresh.append(reading)
        return fresh, heard

    def _known(self, key: DeliveryKey, heard: DeliveriesTold, new_sessions: Collection[int]) -> ToldValue | None:
        series, kind, _ = key
        forgotten = kind == MESSAGE and series in new_sessions
        return heard.get(key) or (None if forgotten else self._heard.get(key))

    def write(self, connection: sqlite3.Connection, heard: DeliveriesTold, new_sessions: Collection[int] = ()) -> None:
        """Within the transaction that stores the readings."""
        connection.executemany(_FORGET_MESSAGES, [(self._site, series) for series in new_sessions])
        if not heard:
            return
        rows = [
            (self._site, turn, *key, told.value, told.received_ms)
            for turn, (key, told) in enumerate(heard.items(), self._turn + 1)
        ]
        connection.executemany(_REMEMBER, rows)
        connection.execute(_FORGET, (self._site, self._turn + len(heard) - REMEMBERED))

    def committed(self, heard: Mapping[DeliveryKey, ToldValue], new_sessions: Collection[int] = ()) -> None:
        """Once that transaction is committed."""
        if new_sessions:
            self._heard = {
                key: told for key, told in self._heard.items() if key[1] != MESSAGE or key[0] not in new_sessions
            }
        self._turn += len(heard)
        for key, told in heard.items():
            self._learn(key, told)
        while len(self._heard) > REMEMBERED:
            del self._heard[next(iter(self._heard))]

    def _learn(self, key: DeliveryKey, told: ToldValue) -> None:
        self._heard.pop(key, None)
        self._heard[key] = told


def _key(reading: Reading) -> DeliveryKey | None:
    """By what a reading is known again; None where its device's own time tells, or nothing does."""
    if reading.lag_ms != 0:
        return None
    if reading.sequence is not None:
        return reading.series, SEQUENCE, reading.sequence & _INT64
    return None if reading.message_id is None else (reading.series, MESSAGE, reading.message_id)


def _is_again(reading: Reading, told: ToldValue, known: ToldValue | None) -> bool:
    if known is None or known.value != told.value:
        return False
    soon = reading.sequence is not None and abs(told.received_ms - known.received_ms) <= REPEATED_MS
    return reading.redelivered or soon
