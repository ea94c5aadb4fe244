"""What a publisher is to fermwatch: it keeps what is told of the site where other programs look for it.

A publisher registers a `PublisherKind` under the entry-point group `fermwatch.publishers`. It decides nothing: what
stands where is given to it, whole and anew, as often as it asks.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel

from fermwatch.contracts.plug_in import Group

OptionsT = TypeVar("OptionsT", bound=BaseModel)

CONTRACT_VERSION = 1

Documents = Mapping[str, str]
"""What stands where: a topic's whole text."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """What a publisher looks after.

    ours: topics, with `+` and `#` as MQTT has them, on which nothing else stands: what lies there from before and is
    none of the documents is taken away. availability, gone: a topic, and what stands in it while nobody publishes.
    """

    ours: Sequence[str]
    availability: str
    gone: str


class Publisher(Protocol):
    """One configured place where documents stand."""

    async def run(self, documents: Callable[[], Awaitable[Documents]], connected: Callable[[str], None]) -> None:
        """Until cancelled: keep there what `documents` gives, by what changed alone.

        connected: told once, with where. Raises PublisherUnavailable where it may go later, PublisherRefused where a
        person must act first.
        """


class PublisherKind(Protocol[OptionsT]):
    """What a plug-in registers. options: the pydantic model of its own keys in the configuration."""

    @property
    def contract_version(self) -> int: ...
    @property
    def options(self) -> type[OptionsT]: ...
    def create(self, name: str, options: OptionsT, shelf: Shelf, every_s: float) -> Publisher:
        """every_s: how often documents are asked for. ConfigError where it cannot be made."""


PUBLISHERS: Group[PublisherKind[Any]] = Group("fermwatch.publishers", "publisher", CONTRACT_VERSION)
