"""Who ends a task that waits for a broker is heard, also where the answer comes in the same moment."""

import asyncio
import math

import aiomqtt
import pytest

from fermwatch_drivers.mqtt.client import Client


async def waits(client: aiomqtt.Client, answer: "asyncio.Future[None]") -> None:
    """As the library's publish and subscribe do, and then what comes next."""
    await client._wait_for(answer, None)
    await asyncio.sleep(math.inf)


async def ended_as_the_answer_comes(client: aiomqtt.Client) -> "asyncio.Task[None]":
    answer: asyncio.Future[None] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(waits(client, answer))
    await asyncio.sleep(0)
    answer.set_result(None)
    task.cancel()
    await asyncio.wait({task}, timeout=0.2)
    return task


async def test_an_end_that_meets_the_answer_is_an_end() -> None:
    assert (await ended_as_the_answer_comes(Client("localhost"))).cancelled()
    assert (await ended_as_the_answer_comes(Client("localhost", timeout=math.inf))).cancelled()


async def test_what_does_not_answer_is_told_as_the_library_tells_it() -> None:
    never: asyncio.Future[None] = asyncio.get_running_loop().create_future()
    with pytest.raises(aiomqtt.MqttError, match="Operation timed out"):
        await Client("localhost")._wait_for(never, 0.01)
    assert never.cancelled()


def test_the_library_still_waits_there() -> None:
    assert "_wait_for" in vars(aiomqtt.Client)
