"""What a command asks of the watcher, and what it says of the outcome."""

from fermwatch.commands.context import Context
from fermwatch.desk.asking import Asker, Reply
from fermwatch.feed import open_feed
from fermwatch.requests.shapes import Asked
from fermwatch.saying import asking


def ask(context: Context, asked: Asked, identity: str = "") -> Reply:
    """See `fermwatch.desk.asking.Asker.ask`."""
    place = context.place
    asker = Asker(place.site, context.user, place.store, context.clock, lambda: open_feed(context.open_store()))
    return asker.ask(asked, identity)


def report(context: Context, reply: Reply, done: str) -> int:
    """Say what came of it; the exit status."""
    context.say(done if reply.outcome is not None else asking.kept(watched=reply.watched))
    return 0
