"""Whether the file of a store is still what SQLite wrote: pages that were overwritten in place, or that a disk lost.

Read by a connection of its own, which knows nothing of what the writer holds in memory, and takes no lock that anybody
waits for. `PRAGMA quick_check` walks every page of every tree (sqlite.org/pragma.html#pragma_quick_check). There is no
checksum: another value in a page that is well formed is not seen.
"""

import sqlite3
from collections.abc import Callable
from pathlib import Path

from fermwatch.errors import StoreDamaged
from fermwatch.store.sqlite.connection import BACKUP, connect_reader, errors_in_words
from fermwatch.text import clean

STEPS = 10_000  # of SQLite's machine between two questions whether to go on


def check_sound(file: Path, given_up: Callable[[], bool]) -> None:
    """StoreDamaged where it is not; StoreError where it cannot be read at all. Whatever is found first is told."""
    connection = connect_reader(file)
    try:
        connection.set_progress_handler(given_up, STEPS)
        with errors_in_words(file):
            found = first_found(connection)
    finally:
        connection.close()
    if found != "ok":
        raise StoreDamaged(f"{file} is damaged ({clean(found, 120)}).", hint=BACKUP)


def first_found(connection: sqlite3.Connection) -> str:
    try:
        ((found,),) = connection.execute("PRAGMA quick_check(1)").fetchall()
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT:
            return "ok"  # as far as it was looked at
        raise
    return str(found).splitlines()[-1]
