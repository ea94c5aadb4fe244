"""What is told where nobody watches: what is wrong with the configuration, and how much waits for a watcher."""

from datetime import datetime

from fermwatch.commands.context import Context
from fermwatch.contracts.feed import Feed, FillingAnswer, FillingQuery, Unwatched
from fermwatch.contracts.store import Reader
from fermwatch.errors import FermwatchError, StoreMissing
from fermwatch.feed import open_feed
from fermwatch.inbox.peeking import how_many_wait


def feed_of(context: Context) -> Feed:
    """A feed that says, where nobody watches, what is wrong with the configuration. Raises it where no store is."""
    try:
        return open_feed(context.open_store(), lambda: unwatched(context), _fill)
    except StoreMissing as error:
        raise behind(error, context) from None


def _fill(reader: Reader, query: FillingQuery, now: datetime) -> FillingAnswer:
    from fermwatch.desk.packaging import answer  # with what judges: only where somebody fills

    return answer(reader, query, now)


def unwatched(context: Context) -> Unwatched:
    place = context.place
    return Unwatched(str(mistake(context) or ""), how_many_wait(place.store, place.site))


def behind(error: FermwatchError, context: Context) -> FermwatchError:
    """Of a store that no watcher has made yet: the mistake that none can start with."""
    if not isinstance(error, StoreMissing):
        return error
    if context.store is None and context.place.config is None:
        hint = "See what it is: `fermwatch demo`. Begin with your own probes: `fermwatch listen`."
        return StoreMissing(error.message, hint=hint)
    return mistake(context) or error


def mistake(context: Context) -> FermwatchError | None:
    """None where nothing is wrong, and where a store was named apart from any configuration."""
    if context.store is not None or context.place.config is None:
        return None
    from fermwatch.commands.watch import load_configuration  # checks options and loads plug-ins: only where it must

    try:
        load_configuration(context)
    except FermwatchError as error:
        return error
    return None
