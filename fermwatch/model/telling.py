"""What people are told of by those who carry messages: when a rule may call somebody, and what was told already."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from fermwatch.model.finding import Severity


class Speaks(StrEnum):
    """When a rule may call somebody. Critical findings always may, at any hour."""

    ANY_HOUR = "at any hour"
    MORNING = "after 07:00"
    DIGEST = "in the daily digest at 08:00"


class Why(StrEnum):
    """Why something is told now."""

    BEGAN = "began"
    WORSE = "worse"
    AGAIN = "again"  # it still stands, and nobody said that it was seen
    OVER = "over"
    PASSED = "passed"  # it began and was over before anybody could be told


@dataclass(frozen=True, slots=True)
class Told:
    """What one notifier told of one alarm last. occurrence: of the alarm. times: how often this occurrence was told.

    message: the id of the message that told it.
    """

    notifier: str
    rule: str
    subject: str
    occurrence: int
    severity: Severity
    why: Why
    at: datetime
    times: int = 1
    message: str = ""

    @property
    def is_over(self) -> bool:
        """That occurrence was told to its end."""
        return self.why in {Why.OVER, Why.PASSED}


@dataclass(frozen=True, slots=True)
class NotifierStatus:
    """How a notifier does. by: the plug-in. since: from when on it tells; what was over before is no news to it.

    told_at: when it last delivered anything; digest_at: when it last looked for a digest. failing_since: since when
    nothing could be delivered, with the reason in one cleaned line (`detail`); None while it can, or has nothing to.
    waits: how many things wait to be told.
    """

    name: str
    by: str
    since: datetime
    told_at: datetime | None = None
    digest_at: datetime | None = None
    failing_since: datetime | None = None
    detail: str = ""
    waits: int = 0
