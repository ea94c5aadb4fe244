"""An intake that remembers, and settles when it is told to."""

import asyncio
from collections.abc import Callable

from fermwatch.contracts.driver import Delivery
from fermwatch.model.reading import RawReading

GUARD_S = 30.0  # against hanging only


async def eventually(true: Callable[[], object]) -> None:
    """Wait until something is true that nobody tells of; a generous guard against hanging."""
    async with asyncio.timeout(GUARD_S):
        while not true():  # noqa: ASYNC110 - nobody sets an event
            await asyncio.sleep(0.005)


class RecordingIntake:
    """What a driver said. settling: whether deliveries are settled at once, as by a store without delay."""

    def __init__(self, *, settling: bool = True) -> None:
        self.settling = settling
        self.details: list[str] = []
        self.deliveries: list[Delivery] = []
        self._news = asyncio.Event()
        self._settled = 0

    def connected(self, detail: str) -> None:
        self.details.append(detail)
        self._news.set()

    async def deliver(self, delivery: Delivery) -> None:
        self.deliveries.append(delivery)
        self._news.set()
        if self.settling:
            self.settle()

    def settle(self) -> None:
        """Settle everything that is not settled yet, in order."""
        while self._settled < len(self.deliveries):
            settled = self.deliveries[self._settled].settled
            self._settled += 1
            if settled is not None:
                settled()

    @property
    def readings(self) -> list[RawReading]:
        return [reading for delivery in self.deliveries for reading in delivery.readings]

    @property
    def rejected(self) -> int:
        return sum(rejection.count for delivery in self.deliveries for rejection in delivery.rejections)

    def values(self, channel: str) -> list[float]:
        return [reading.value for reading in self.readings if reading.channel == channel]

    async def until(self, true: Callable[["RecordingIntake"], object]) -> None:
        """Wait until something is true of what was recorded; a generous guard against hanging."""
        async with asyncio.timeout(GUARD_S):
            while not true(self):
                self._news.clear()
                await self._news.wait()

    async def until_connected(self, times: int = 1) -> None:
        await self.until(lambda intake: len(intake.details) >= times)

    async def until_heard(self, channel: str, value: float) -> None:
        await self.until(lambda intake: value in intake.values(channel))
