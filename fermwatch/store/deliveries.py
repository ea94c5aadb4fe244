"""Messages stored of late, so that one delivered again is known even where no device time tells.

A broker repeats a message under the same identifier until it is acknowledged, also after the watcher was killed between
commit and acknowledgement: what is remembered is therefore part of the store, and bounded.
"""

import sqlite3
from collections.abc import Sequence

from fermwatch.model.reading import Reading

REMEMBERED = 8_192  # more readings than a broker may have in flight (Receive Maximum 1,000)

_ALL = "SELECT turn, series, message_id, value FROM delivery ORDER BY turn"
_REMEMBER = "INSERT INTO delivery (turn, series, message_id, value) VALUES (?, ?, ?, ?)"
_FORGET = "DELETE FROM delivery WHERE turn <= ?"

Heard = dict[tuple[int, int], float]  # (series, message_id) -> value


class Deliveries:
    """What the store remembers of messages, held in memory to be asked for every reading."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._heard: Heard = {}
        self._turn = 0
        for turn, series, message_id, value in connection.execute(_ALL):
            self._learn((series, message_id), value)
            self._turn = turn

    def sift(self, readings: Sequence[Reading]) -> tuple[list[Reading], Heard]:
        """Without those delivered again; and what is to be remembered of the rest."""
        fresh: list[Reading] = []
        heard: Heard = {}
        for reading in readings:
            if reading.message_id is not None and reading.lag_ms == 0:
                key = (reading.series, reading.message_id)
                if reading.redelivered and heard.get(key, self._heard.get(key)) == reading.value:
                    continue
                heard[key] = reading.value
            fresh.append(reading)
        return fresh, heard

    def write(self, connection: sqlite3.Connection, heard: Heard) -> None:
        """Within the transaction that stores the readings."""
        if not heard:
            return
        rows = [(turn, *key, value) for turn, (key, value) in enumerate(heard.items(), self._turn + 1)]
        connection.executemany(_REMEMBER, rows)
        connection.execute(_FORGET, (self._turn + len(heard) - REMEMBERED,))

    def committed(self, heard: Heard) -> None:
        """Once that transaction is committed."""
        self._turn += len(heard)
        for key, value in heard.items():
            self._learn(key, value)
        while len(self._heard) > REMEMBERED:
            del self._heard[next(iter(self._heard))]

    def _learn(self, key: tuple[int, int], value: float) -> None:
        self._heard.pop(key, None)
        self._heard[key] = value
