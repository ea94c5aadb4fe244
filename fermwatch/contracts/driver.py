"""What a driver is to fermwatch, whether it ships with it or comes from a stranger.

A driver registers a `DriverKind` under the entry-point group `fermwatch.drivers`. Ingest makes one `Driver` per
configured source and supervises it: a driver that raises is started again after a pause, and disturbs nobody else.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel

from fermwatch.clock import Clock
from fermwatch.contracts.plug_in import Group
from fermwatch.contracts.wire import Wires
from fermwatch.model.reading import RawReading

OptionsT = TypeVar("OptionsT", bound=BaseModel)

CONTRACT_VERSION = 2


@dataclass(frozen=True, slots=True)
class Rejection:
    """Something heard that is not a reading. `sample` is cleaned and cut short; `channel` is empty where unknown.

    count: how many of the same reason and channel this one stands for.
    """

    reason: str
    sample: str = ""
    channel: str = ""
    count: int = 1


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came in together.

    settled: called once, on the event loop, when every reading of the delivery is safely committed or will never be:
    only then may a driver acknowledge to a broker.
    urgent: the sender will fall silent until it is settled; commit without waiting for more.
    new_session: the first of a session that the sender began anew: message identifiers of before mean nothing now.
    """

    readings: tuple[RawReading, ...] = ()
    rejections: tuple[Rejection, ...] = ()
    settled: Callable[[], None] | None = None
    urgent: bool = False
    new_session: bool = False


class Listener(Protocol):
    """What a driver speaks to."""

    def connected(self, detail: str) -> None:
        """The wire is up (again). `detail` is one cleaned line for the health screen."""

    async def deliver(self, delivery: Delivery) -> None:
        """Hand over what came in; waits while the store cannot keep up, which is the back-pressure."""


class Driver(Protocol):
    """One configured source."""

    async def run(self, listener: Listener) -> None:
        """Open, read and deliver until cancelled or until the connection fails. Called again after it ended.

        Raises:
            ProbeUnavailable: it may come back; started again after a jittered pause.
            ProbeRefused: a person must act (the text says what); tried again, slowly.

        Frees everything it opened on the way out, also when cancelled, within a second.
        """


class DriverKind(Protocol[OptionsT]):
    """What is registered as an entry point."""

    @property
    def contract_version(self) -> int: ...

    @property
    def options(self) -> type[OptionsT]:
        """The pydantic model of a source's own keys in the configuration: one sentence per field."""

    @property
    def quality(self) -> Mapping[str, str]:
        """What the driver promises: rule -> "done" or the reason for an exemption."""

    def create(self, name: str, options: OptionsT, channels: Sequence[str], clock: Clock, wires: Wires) -> Driver:
        """A driver that will deliver the channels named (it may deliver more, which teaches the user their names).

        wires: where it finds its wire, if that is one that others may name too; see `contracts.wire`.
        Raises ConfigError where a channel's name cannot be meant.
        """


DRIVERS: Group[DriverKind[Any]] = Group("fermwatch.drivers", "driver", CONTRACT_VERSION)
