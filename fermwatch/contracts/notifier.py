"""What a notifier is to fermwatch, whether its plug-in ships with it or comes from a stranger.

A notifier registers a `NotifierKind` under the entry-point group `fermwatch.notifiers`. It decides nothing: it carries
one message to people, and says whether it could.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel

from fermwatch.contracts.plug_in import Group
from fermwatch.model.finding import Severity
from fermwatch.model.telling import Why

OptionsT = TypeVar("OptionsT", bound=BaseModel)

CONTRACT_VERSION = 1


@dataclass(frozen=True, slots=True)
class NotificationPart:
    """One thing that is told. id: of this cause and this step of it: the same wherever and however often it is sent.

    thread: of this cause, from its beginning to its end.
    """

    id: str
    thread: str
    rule: str
    subject: str
    severity: Severity
    why: Why
    since: datetime | None
    text: str


@dataclass(frozen=True, slots=True)
class Notification:
    """What is sent: plain text in the reader's units, cleaned. Delivered at least once; `id` tells a second copy.

    thread: of its gravest part, so that what is over stands beside what began.
    """

    id: str
    thread: str
    site: str
    at: datetime
    severity: Severity
    title: str
    text: str
    parts: tuple[NotificationPart, ...] = ()

    def as_plain(self) -> Mapping[str, Any]:
        """As JSON data, documented in docs/telling.md."""
        return {
            "id": self.id,
            "thread": self.thread,
            "site": self.site,
            "at": self.at.isoformat(),
            "severity": str(self.severity),
            "title": self.title,
            "text": self.text,
            "parts": [
                {
                    "id": part.id,
                    "thread": part.thread,
                    "rule": part.rule,
                    "subject": part.subject,
                    "severity": str(part.severity),
                    "why": str(part.why),
                    "since": None if part.since is None else part.since.isoformat(),
                    "text": part.text,
                }
                for part in self.parts
            ],
        }


class Notifier(Protocol):
    """One configured way to people."""

    async def send(self, message: Notification) -> None:
        """Return when whoever carries it on has taken it over.

        Raises NotifierUnavailable where it may go later, NotifierRefused where a person must act first. Cancelled
        where it takes too long: what it began then must not go on.
        """


class NotifierKind(Protocol[OptionsT]):
    """What a plug-in registers. options: the pydantic model of its own keys in the configuration."""

    @property
    def contract_version(self) -> int: ...
    @property
    def options(self) -> type[OptionsT]: ...
    def create(self, name: str, options: OptionsT, directory: Path) -> Notifier:
        """directory: of the configuration, to which relative paths refer. ConfigError where it cannot be made."""


NOTIFIERS: Group[NotifierKind[Any]] = Group("fermwatch.notifiers", "notifier", CONTRACT_VERSION)
