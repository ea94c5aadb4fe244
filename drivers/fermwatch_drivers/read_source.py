"""A controller that is only read: a source of readings like any other."""

from collections.abc import Sequence

from fermwatch.contracts.controller import Controller, Seen
from fermwatch.contracts.driver import Delivery, Listener
from fermwatch.errors import ConfigError
from fermwatch.text import clean
from fermwatch_drivers.hearing import Teaching


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
