"""The library's client, made so that whoever ends it is heard."""

import asyncio
import math
from collections.abc import Awaitable
from typing import TypeVar

import aiomqtt

T = TypeVar("T")


class Client(aiomqtt.Client):
    """`asyncio.wait_for` of Python 3.11, by which the library waits, returns what is done in the moment when it is
    cancelled, and the cancellation is lost: the task goes on for ever, and whoever waits for its end with it.
    """

    async def _wait_for(self, fut: Awaitable[T], timeout: float | None) -> T:  # noqa: ASYNC109 - its own name
        limit_s = self.timeout if timeout is None else timeout
        try:
            async with asyncio.timeout(None if limit_s == math.inf else limit_s):
                return await fut
        except TimeoutError:
            raise aiomqtt.MqttError("Operation timed out") from None
