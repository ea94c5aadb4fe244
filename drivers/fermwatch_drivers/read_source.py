"""A controller that is only read: a source of readings like any other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from pydantic import BaseModel

from fermwatch.clock import Clock
from fermwatch.contracts.controller import Controller, ControllerKind, Seen
from fermwatch.contracts.driver import CONTRACT_VERSION, Delivery, Listener
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError
from fermwatch.text import clean
from fermwatch_drivers.hearing import Teaching


class ChannelledOptions(BaseModel):
    """Options that tell which channels the controller has."""

    @property
    def channels(self) -> tuple[str, ...]:
        """The names under which its values are readings."""
        raise NotImplementedError


ReadOptionsT = TypeVar("ReadOptionsT", bound=ChannelledOptions)


class ReadSource:
    """The driver around a controller. Has it do nothing: what it shows is heard, and that is all."""

    def __init__(self, name: str, controller: Controller, channels: Sequence[str], shows: Sequence[str]) -> None:
        """shows: the channels that this controller has. Raises ConfigError where a probe names another."""
        for channel in channels:
            if channel not in shows:
                raise ConfigError(
                    f'"{clean(channel)}" is no channel of this controller.',
                    key=name,
                    hint=f"It has {', '.join(shows)}.",
                )
        self._controller, self._channels = controller, tuple(channels)

    async def run(self, listener: Listener) -> None:
        """See `fermwatch.contracts.driver.Driver`."""
        await self._controller.run(_Overheard(listener, Teaching(self._channels)))


class _Overheard:
    """Hands on the readings that some probe wants, and of the others each once, to teach their names."""

    def __init__(self, listener: Listener, teaching: Teaching) -> None:
        self._listener, self._teaching = listener, teaching

    def connected(self, detail: str) -> None:
        self._listener.connected(detail)

    async def deliver(self, delivery: Delivery) -> None:
        wanted = tuple(one for one in delivery.readings if self._teaching.channel(one.channel) is not None)
        for one in wanted:
            self._teaching.heard(one.channel)
        if wanted or delivery.rejections:
            await self._listener.deliver(Delivery(wanted, delivery.rejections, delivery.settled, delivery.urgent))

    async def seen(self, seen: Seen) -> None:
        """Nobody controls here."""


@dataclass(frozen=True, slots=True)
class ReadKind(Generic[ReadOptionsT]):
    """The driver of a kind of controller, whose options have `channels`: what an entry point registers."""

    controllers: ControllerKind[ReadOptionsT]
    no_secrets: str
    contract_version: int = CONTRACT_VERSION

    @property
    def options(self) -> type[ReadOptionsT]:
        return self.controllers.options

    @property
    def quality(self) -> Mapping[str, str]:
        return {
            "stable-channel-names": "done",
            "tested-before-start": "done",
            "damaged-frames-survived": "done",
            "cancels-within-a-second": "done",
            "unavailable-is-not-unknown": "done",
            "one-line-per-loss": "done",
            "explicit-concurrency": "done",
            "no-secrets-shown": self.no_secrets,
            "real-hardware-captures": "exempt: only devices of our own making and other people's servers were at hand",
            "limits-documented": "done",
            "strict-types": "done",
            "asynchronous": "done",
        }

    def create(
        self, name: str, options: ReadOptionsT, channels: Sequence[str], clock: Clock, wires: Wires
    ) -> ReadSource:
        """See `fermwatch.contracts.driver.DriverKind`. Raises ConfigError."""
        return ReadSource(name, self.controllers.create(name, options, clock, wires), channels, options.channels)
