"""What the one module that reaches into aiomqtt rests on: this fails where a new version changes it."""

import asyncio
import inspect
import socket

import aiomqtt
import paho.mqtt.client as paho

from fermwatch_drivers.mqtt.acknowledge import HeldConnection
from fermwatch_drivers.mqtt.dialling import Dialled


async def test_aiomqtt_has_the_inner_client_that_can_wait_with_acknowledging() -> None:
    inner = aiomqtt.Client("localhost")._client
    assert isinstance(inner, paho.Client)
    assert list(inspect.signature(inner.ack).parameters) == ["mid", "qos"]
    assert list(inspect.signature(inner.manual_ack_set).parameters) == ["on"]
    assert list(inspect.signature(inner._create_socket).parameters) == []
    for name in ("on_message", "on_disconnect", "on_socket_register_write"):
        assert isinstance(getattr(paho.Client, name), property)
    assert {"dup", "mid", "qos", "retain", "payload"} <= set(paho.MQTTMessage.__slots__)


async def test_nothing_is_acknowledged_by_itself_and_nothing_without_a_connection() -> None:
    ours, theirs = socket.socketpair()
    client = aiomqtt.Client("localhost")
    connection = HeldConnection(client, Dialled(ours, "localhost", None), lambda _: None, lambda: None)
    try:
        assert client._client._manual_ack
        assert client._client._create_socket() is ours
        assert connection.acknowledge(1) is False
    finally:
        await connection.close()
        theirs.close()
    assert ours.fileno() == -1


async def test_a_closing_that_is_cancelled_at_any_step_leaves_no_socket_open() -> None:
    for steps in range(1, 8):
        ours, theirs = socket.socketpair()
        connection = HeldConnection(
            aiomqtt.Client("localhost"), Dialled(ours, "localhost", None), lambda _: None, lambda: None
        )
        connection._watching = asyncio.create_task(asyncio.sleep(3_600))
        closing = asyncio.create_task(connection.close())
        for _ in range(steps):
            await asyncio.sleep(0)
        closing.cancel()
        await asyncio.gather(closing, return_exceptions=True)
        with theirs:
            theirs.setblocking(False)
            assert theirs.recv(1) == b"", f"cancelled after {steps} steps, our end is still open"
        assert ours.fileno() == -1
        assert connection._watching.cancelling()


async def test_a_broker_that_refuses_and_hangs_up_at_once_is_heard_out() -> None:
    """Both come in one reading: the end is known before the login has come to the broker's word."""
    ours, theirs = socket.socketpair()
    client = aiomqtt.Client("localhost")
    connection = HeldConnection(client, Dialled(ours, "localhost", None), lambda _: None, lambda: None)
    refused = aiomqtt.MqttError("not authorised")
    word: asyncio.Future[aiomqtt.Client] = asyncio.get_running_loop().create_future()

    async def login() -> aiomqtt.Client:
        await asyncio.wait({word})
        await asyncio.sleep(0)  # as the library, which takes a turn or two
        return word.result()

    connection._entering = asyncio.create_task(login())
    answer = asyncio.create_task(connection._answer(connection._entering))
    await asyncio.sleep(0)
    connection._greeted = True
    connection._hung_up.set()
    word.set_exception(refused)
    with theirs:
        assert (await asyncio.gather(answer, return_exceptions=True))[0] is refused
        await connection.close()
