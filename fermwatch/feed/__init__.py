"""Pictures of the store, for whoever looks: over the store's contract alone."""

from collections.abc import Callable

from fermwatch.contracts.feed import Feed, Unwatched
from fermwatch.contracts.store import Store
from fermwatch.feed.store_feed import Fill, StoreFeed, nobody_fills


def open_feed(store: Store, unwatched: Callable[[], Unwatched] = Unwatched, fill: Fill = nobody_fills) -> Feed:
    """A feed with a reader of its own. Raises what `Store.reader` does. unwatched: asked where nobody watches.

    fill: answers how a package would be filled.
    """
    return StoreFeed(store.reader(), store.is_held, unwatched, fill)
