"""Pictures of the store, for whoever looks: over the store's contract alone."""

from fermwatch.contracts.feed import Feed
from fermwatch.contracts.store import Store
from fermwatch.feed.picture import StoreFeed


def open_feed(store: Store) -> Feed:
    """A feed with a reader of its own. Raises what `Store.reader` does."""
    return StoreFeed(store.reader())
