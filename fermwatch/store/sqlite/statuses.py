"""How the watcher, its sources and its controllers do, as of now: a row each, replaced; inside of the caller's
transaction.
"""

import sqlite3
from collections.abc import Iterable

from fermwatch.contracts.store import ControllerStatus, SourceStatus, WatcherStatus
from fermwatch.store import rows

_WATCHER = "INSERT OR REPLACE INTO watcher (site, watcher) VALUES (?, ?)"
_SOURCE = "INSERT OR REPLACE INTO source (site, name, source) VALUES (?, ?, ?)"
_CONTROLLER = "INSERT OR REPLACE INTO controller (site, name, controller) VALUES (?, ?, ?)"
_FORGET_CONTROLLER = "DELETE FROM controller WHERE site = ? AND name = ?"


def keep(connection: sqlite3.Connection, site: str, status: WatcherStatus | SourceStatus | ControllerStatus) -> None:
    match status:
        case WatcherStatus():
            connection.execute(_WATCHER, (site, rows.WATCHER.row(status)))
        case SourceStatus(name):
            connection.execute(_SOURCE, (site, name, rows.SOURCE.row(status)))
        case ControllerStatus(name):
            connection.execute(_CONTROLLER, (site, name, rows.CONTROLLER.row(status)))


def forget_controllers(connection: sqlite3.Connection, site: str, names: Iterable[str]) -> None:
    connection.executemany(_FORGET_CONTROLLER, [(site, name) for name in names])
