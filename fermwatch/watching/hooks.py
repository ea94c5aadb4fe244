"""What whoever starts a watcher may want to know of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from fermwatch.ingest.pipeline import Intake
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.hold import Holdings


@dataclass(frozen=True, slots=True)
class Hooks:
    """What whoever starts a watcher may want to know: the demo paces its simulator by it.

    opened: called in the store's thread before anything is watched. committed: readings are stored, and decided upon
    where that was due. controlled: a controller was looked at, and what was due was ordered, as of that instant.
    """

    opened: Callable[[Holdings], None] = lambda _held: None
    ready: Callable[[], None] = lambda: None
    committed: Callable[[Intake], None] = lambda _intake: None
    controlled: Callable[[datetime], None] = lambda _at: None
    decided: Callable[[datetime, list[AlarmChange]], None] = lambda _at, _changes: None
