"""What changed, for whoever tells people, controls or publishes: kept until every one of them has taken it.

Written in the transaction of the change itself: neither is ever there without the other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Protocol

MOST_KEPT = 10_000  # notices: a consumer that takes nothing for ever fills no disk


class ChangeKind(StrEnum):
    ALARM = "alarm"  # what: rule, transitions, severity, statement
    PHASE = "phase"  # what: before, after
    VERDICT = "verdict"  # what: before, after
    OUTCOME = "outcome"  # what: request, kind, state, reason


@dataclass(frozen=True, slots=True)
class Change:
    """Something changed. subject: as alarms name it (`vessel:left`, `batch:<id>`)."""

    at: datetime
    kind: ChangeKind
    subject: str
    what: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Notice:
    """A change as it is kept. number: its own for ever, higher than that of every earlier one; by it, what is handed
    out again after a kill is known to be the same."""

    number: int
    change: Change


class Outbox(Protocol):
    """Used in the store's one writing thread. A consumer is known by its name, over restarts."""

    def subscribe(self, consumer: str) -> None:
        """Keep what changes from now on for it too; nothing where it is known already."""

    def unsubscribe(self, consumer: str) -> None:
        """Keep nothing for it any more."""

    def outstanding(self, consumer: str, limit: int = 100) -> Sequence[Notice]:
        """What it has not taken, oldest first: the same again and again until it has."""

    def taken(self, consumer: str, number: int) -> None:
        """It is done with all notices up to this one. What every consumer has taken is kept no longer."""
