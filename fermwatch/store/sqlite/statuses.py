"""How the watcher, its sources, controllers and notifiers do, as of now: a row each, replaced; inside of the caller's
transaction.
"""

import sqlite3
from collections.abc import Iterable, Sequence

from fermwatch.contracts.store import ControllerStatus, SourceStatus, WatcherStatus
from fermwatch.model.telling import NotifierStatus, Told
from fermwatch.store import rows

_WATCHER = "INSERT OR REPLACE INTO watcher (site, watcher) VALUES (?, ?)"
_SOURCE = "INSERT OR REPLACE INTO source (site, name, source) VALUES (?, ?, ?)"
_CONTROLLER = "INSERT OR REPLACE INTO controller (site, name, controller) VALUES (?, ?, ?)"
_NOTIFIER = "INSERT OR REPLACE INTO notifier (site, name, notifier) VALUES (?, ?, ?)"
_TOLD = "INSERT OR REPLACE INTO told (site, notifier, rule, subject, told) VALUES (?, ?, ?, ?, ?)"
_FORGET_NOTIFIER = "DELETE FROM notifier WHERE site = ? AND name = ?"
_FORGET_ITS_WORDS = "DELETE FROM told WHERE site = ? AND notifier = ?"
_FORGET_TOLD = "DELETE FROM told WHERE site = ? AND rule = ? AND subject = ?"
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


def keep_notifier(connection: sqlite3.Connection, site: str, status: NotifierStatus, told: Sequence[Told]) -> None:
    connection.execute(_NOTIFIER, (site, status.name, rows.NOTIFIER.row(status)))
    kept = [(site, one.notifier, one.rule, one.subject, rows.TOLD.row(one)) for one in told]
    connection.executemany(_TOLD, kept)


def forget_notifiers(connection: sqlite3.Connection, site: str, names: Iterable[str]) -> None:
    gone = [(site, name) for name in names]
    connection.executemany(_FORGET_NOTIFIER, gone)
    connection.executemany(_FORGET_ITS_WORDS, gone)


def forget_told(connection: sqlite3.Connection, site: str, keys: Iterable[tuple[str, str]]) -> None:
    connection.executemany(_FORGET_TOLD, [(site, *key) for key in keys])
