"""A site's store in a directory, as tests open it: through the one door, with less room held back."""

import contextlib
import sqlite3
from datetime import datetime
from pathlib import Path

from fermwatch.contracts.feed import Feed
from fermwatch.contracts.store import Reader, Store, Writer
from fermwatch.feed import open_feed as feed_of
from fermwatch.store import open_store


def store_in(directory: Path, site: str = "home", *, ballast_bytes: int | None = None) -> Store:
    held = "" if ballast_bytes is None else f"?ballast_bytes={ballast_bytes}"
    return open_store(directory.absolute().as_uri() + held, site)


def open_writer(
    directory: Path, site: str, now: datetime, *, create: bool = True, ballast_bytes: int | None = None
) -> Writer:
    return store_in(directory, site, ballast_bytes=ballast_bytes).writer(now, create=create)


def open_reader(directory: Path, site: str) -> Reader:
    return store_in(directory, site).reader()


def open_feed(directory: Path, site: str) -> Feed:
    return feed_of(store_in(directory, site))


def readings_kept(directory: Path) -> int:
    """How many rows of readings lie in the site `home`'s file, which must be sound, as another program finds it."""
    with contextlib.closing(sqlite3.connect(directory / "home.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return int(connection.execute("SELECT count(*) FROM reading").fetchone()[0])
