"""What is said to somebody who asks something of the watcher: that it is kept, refused, or done."""

from collections.abc import Sequence

from fermwatch.contracts.inbox import Outcome

VIEWER_ONLY = "You may look, not answer: ask for a place in the group `fermwatch` on this machine."
NONE_WAITS = "No alarm here waits to be seen."
NO_CONTROLLER = "No controller is configured that could be let be."
SEEN = "Seen: the watcher has noted it down."


def let_be(controllers: Sequence[str]) -> str:
    return f"Observing: nothing is written to {' and '.join(controllers)} any more."


def kept(*, watched: bool) -> str:
    """Of a request that has no outcome yet."""
    if watched:
        return "Kept in the inbox: the watcher is busy, and carries it out when it gets to it."
    return "Kept in the inbox: no watcher is running now. It is carried out when one starts."


def refused(outcome: Outcome) -> str:
    return outcome.reason or f"The request was {outcome.state}."
