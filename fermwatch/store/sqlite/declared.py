"""What is configured, as rows: fermenters, series, and which fermenter each series serves from when on; inside of the
caller's transaction.
"""

import sqlite3
from collections.abc import Sequence
from datetime import datetime

from fermwatch.clock import WRITTEN, to_ms
from fermwatch.model.history import NOWHERE
from fermwatch.model.probe import Calibration, Probe, Vessel
from fermwatch.store import rows

_SET_TIMEZONE = "UPDATE site SET timezone = ? WHERE site = ?"
_NO_VESSELS = "UPDATE vessel SET configured = 0 WHERE site = ?"
_VESSEL = "INSERT OR REPLACE INTO vessel (site, slug, position, configured, vessel) VALUES (?, ?, ?, 1, ?)"
_NO_SERIES = "UPDATE series SET configured = 0 WHERE site = ?"
_SERIES = """
INSERT INTO series (site, slug, quantity, position, configured, probe) VALUES (?, ?, ?, ?, 1, ?)
ON CONFLICT (site, slug, quantity) DO UPDATE SET position = excluded.position, configured = 1, probe = excluded.probe
RETURNING series
"""
_BOUND_AHEAD = "DELETE FROM binding WHERE series = ? AND valid_from_ms > ?"
_UNCONFIGURED = "SELECT series FROM series WHERE site = ? AND NOT configured"
_BOUND = (
    'SELECT vessel, "offset", factor, valid_from_ms FROM binding WHERE series = ? ORDER BY valid_from_ms DESC LIMIT 1'
)
_BIND = 'INSERT OR REPLACE INTO binding (series, valid_from_ms, vessel, "offset", factor) VALUES (?, ?, ?, ?, ?)'


def keep(
    connection: sqlite3.Connection,
    site: str,
    timezone: str,
    vessels: Sequence[Vessel],
    probes: Sequence[Probe],
    now: datetime,
) -> dict[str, int]:
    """The number of each probe's series, by slug."""
    connection.execute(_SET_TIMEZONE, (timezone, site))
    connection.execute(_NO_VESSELS, (site,))
    for position, vessel in enumerate(vessels):
        connection.execute(_VESSEL, (site, vessel.slug, position, rows.VESSEL.row(vessel)))
    connection.execute(_NO_SERIES, (site,))
    numbers = {
        probe.slug: _declare_probe(connection, site, position, probe, now) for position, probe in enumerate(probes)
    }
    for (series,) in connection.execute(_UNCONFIGURED, (site,)).fetchall():
        _bind(connection, series, NOWHERE, Calibration(), now)
    return numbers


def _declare_probe(connection: sqlite3.Connection, site: str, position: int, probe: Probe, now: datetime) -> int:
    row = (site, probe.slug, probe.quantity, position, rows.PROBE.row(probe))
    series = int(connection.execute(_SERIES, row).fetchone()[0])
    _bind(connection, series, probe.vessel, probe.calibration, now)
    return series


def _bind(connection: sqlite3.Connection, series: int, vessel: str, calibration: Calibration, now: datetime) -> None:
    """From now on, where that is news. What a clock that ran ahead bound for a time to come never held; by a clock that
    was not set yet, it is the last that held."""
    if now >= WRITTEN:
        connection.execute(_BOUND_AHEAD, (series, to_ms(now)))
    *bound, since_ms = connection.execute(_BOUND, (series,)).fetchone() or (None, None, None, to_ms(now) - 1)
    unchanged = bound == [vessel, calibration.offset, calibration.factor]
    if not unchanged and not vessel == bound[0] == NOWHERE:
        from_ms = max(to_ms(now), since_ms + 1)
        connection.execute(_BIND, (series, from_ms, vessel, calibration.offset, calibration.factor))
