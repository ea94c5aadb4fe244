"""The store for a process that stays and looks now and then."""

from fermwatch.commands.context import Context
from fermwatch.contracts.feed import Feed, Snapshot
from fermwatch.errors import StoreError
from fermwatch.feed import open_feed


class Looking:
    """Used in one thread. Where the store is another than it was, as after a restore, it is opened anew."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._feed: Feed | None = None

    def snapshot(self) -> Snapshot:
        """Raises StoreError."""
        try:
            return self._seen()
        except StoreError:
            return self._seen()

    def _seen(self) -> Snapshot:
        try:
            if self._feed is None:
                self._feed = open_feed(self._context.open_store())
            self._feed.changed()  # StoreGone where it is not the one that was opened
            return self._feed.snapshot(self._context.clock.now())
        except StoreError:
            self.close()
            raise

    def close(self) -> None:
        if self._feed is not None:
            self._feed.close()
            self._feed = None
