"""A connection whose messages are acknowledged only once their readings are committed.

By itself the MQTT library acknowledges a message as soon as it has come in, and the broker forgets what a crash may
still lose. aiomqtt 2.5 offers no other way; the client inside it does. This is the one module that reaches for that
inner client, and a test holds it against the aiomqtt that is installed.
"""

import asyncio
import contextlib
import socket
import struct
from collections.abc import Callable, Coroutine, Sequence
from typing import Any, TypeVar

import aiomqtt
from aiomqtt.types import PahoSocket
from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from fermwatch.contracts.wire import NoLongerWanted
from fermwatch_drivers.mqtt.dialling import Dialled

T = TypeVar("T")

_QOS_1 = 1
_ENDING_LIMIT_S = 0.3
_AT_ONCE = struct.pack("ii", 1, 0)  # SO_LINGER: what was not sent yet is dropped, and the far end is told by a reset


class HeldConnection:
    """One connection, over a socket that is already connected. Its acknowledgements are void once it has ended."""

    def __init__(
        self,
        client: aiomqtt.Client,
        dialled: Dialled,
        received: Callable[[MQTTMessage], None],
        ended: Callable[[], None],
    ) -> None:
        """received, ended: called on the event loop, for each message and once the connection has gone."""
        self._client, self._received, self._ended = client, received, ended
        self._switch = dialled.connection.dup()  # ends the connection also while a thread holds the socket itself
        self._socket = dialled.connection
        self._inner = client._client
        self._inner.manual_ack_set(True)
        self._inner.on_message = lambda _client, _userdata, message: self._received(message)
        # As the library does it, a write may be asked for on a socket that was closed in the same turn.
        self._inner.on_socket_register_write = self._on_register_write
        self._library_on_connect = self._inner.on_connect
        self._inner.on_connect = self._on_connect
        self._library_on_publish = self._inner.on_publish
        self._inner.on_publish = self._on_publish
        self._library_on_disconnect = self._inner.on_disconnect
        self._inner.on_disconnect = self._on_disconnect
        # The library would resolve the name and connect in a thread that cannot be stopped, and leave a socket open
        # where the handshake fails.
        setattr(self._inner, "_create_socket", dialled.encrypted)  # noqa: B010
        self._loop = asyncio.get_running_loop()
        self._open = False
        self._entering: asyncio.Task[aiomqtt.Client] | None = None
        self._asking: set[asyncio.Task[tuple[int, ...] | list[ReasonCode]]] = set()
        self._publishing: set[asyncio.Task[None]] = set()
        self._watching: asyncio.Task[None] | None = None
        self._resetting = False
        self._taken_over = 0  # the broker's reason code for what was published last
        self._greeted = False  # the broker answered the login, be it with a refusal
        self._hung_up = asyncio.Event()  # also before the broker's first answer, which the library does not tell
        self.loss: aiomqtt.MqttError | None = None
        self.session_present = False  # whether the broker remembers us, said at the login

    async def open(self) -> None:
        """Log in. Raises MqttError as the library does, ConnectionResetError where the broker hangs up at once."""
        self._watching = asyncio.create_task(self._watch(), name="mqtt watch")
        self._entering = asyncio.create_task(self._client.__aenter__(), name="mqtt login")
        await self._answer(self._entering)
        self._open = True

    async def subscribe(self, topic_filter: str) -> list[int]:
        """The broker's reason code for each filter. Raises as `open`."""
        return await self._subscribed(self._client.subscribe(topic_filter, qos=_QOS_1))

    async def subscribe_as(self, wanted: Sequence[tuple[str, SubscribeOptions]]) -> list[int]:
        """The same for several at once, each in its own way (MQTT 5 alone)."""
        return await self._subscribed(self._client.subscribe(list(wanted)))

    async def _subscribed(self, asked: Coroutine[Any, Any, tuple[int, ...] | list[ReasonCode]]) -> list[int]:
        asking = asyncio.create_task(asked, name="mqtt subscribe")
        self._asking.add(asking)
        answers = await self._answer(asking)
        self._asking.discard(asking)
        return [int(answer.value if isinstance(answer, ReasonCode) else answer) for answer in answers]

    async def publish(
        self,
        topic: str,
        payload: bytes,
        *,
        qos: int,
        retain: bool,
        properties: Properties | None,
        wanted: Callable[[], bool] = lambda: True,
    ) -> int:
        """Until the broker has taken it over: its reason code, or that of another that was published meanwhile.

        wanted: asked in the instant of sending. Raises as `open`, and NoLongerWanted where `wanted` says so.
        """

        async def sent() -> None:
            if not wanted():
                raise NoLongerWanted
            await self._client.publish(topic, payload, qos, retain, properties)

        publishing = asyncio.create_task(sent(), name="mqtt publish")
        self._publishing.add(publishing)
        try:
            await self._answer(publishing)
        finally:
            if publishing.done():
                self._publishing.discard(publishing)
        return self._taken_over

    def reset(self) -> None:
        """Have `close` drop what was not sent yet, also by this machine's network: nothing of it is to come late."""
        self._resetting, self._open = True, False
        with contextlib.suppress(OSError):  # it has ended meanwhile
            self._switch.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _AT_ONCE)

    async def _answer(self, asking: asyncio.Task[T]) -> T:
        """What the broker says, unless it hangs up.

        The library is not awaited itself: on Python 3.11 its wait swallows a cancellation that comes with the answer.
        """
        hung_up = asyncio.create_task(self._hung_up.wait(), name="mqtt hang-up")
        try:
            await asyncio.wait({asking, hung_up}, return_when=asyncio.FIRST_COMPLETED)
            if self._greeted and asking is self._entering:
                # The broker said why before it hung up, in one reading: the login has yet to come to its word.
                await asyncio.wait({asking})
        finally:
            hung_up.cancel()
        if asking.done() and (asking.exception() is not None or not self._hung_up.is_set()):
            return asking.result()
        raise ConnectionResetError

    def acknowledge(self, packet_id: int) -> bool:
        """Tell the broker that it may forget this message; False where the connection has ended before that."""
        if not self._open or self._hung_up.is_set():
            return False
        self._inner.ack(packet_id, _QOS_1)
        return True

    async def close(self) -> None:
        """Send what is queued and end the connection, whatever state it is in, without waiting for the broker.

        Cancelled meanwhile, as by the last user who leaves while the connection ends by itself, it frees all the same.
        """
        try:
            await self._part()
            for task in self._tasks():
                task.cancel()
                await asyncio.gather(task, return_exceptions=True)
        finally:
            for task in self._tasks():
                task.cancel()
            self._free()
            self._switch.close()
            self._socket.close()

    async def _part(self) -> None:
        logged_in, self._open = self._open, False
        await asyncio.sleep(0)  # what threads have asked of the loop is done first
        if logged_in and not self._hung_up.is_set():
            self._inner.disconnect()
            self._inner.loop_write()  # acknowledgements first, the farewell last
        with contextlib.suppress(OSError):  # the other side was first
            # A reset is the last closing of all; until then nothing more is to be sent, not even that we leave.
            self._switch.shutdown(socket.SHUT_RD if self._resetting else socket.SHUT_RDWR)
        if self._entering is not None and not self._entering.done():
            await asyncio.wait({self._entering}, timeout=_ENDING_LIMIT_S)  # a handshake in a thread has now failed
        self._free()

    def _free(self) -> None:
        """Free the library's socket, where it did not do so itself."""
        with contextlib.suppress(Exception):  # the library stumbles over a broker that sends nonsense
            self._inner.loop_read()  # finds the end of the stream and frees the socket, where that was not done yet
        if (left := self._inner.socket()) is not None and left.fileno() >= 0:
            self._loop.remove_reader(left)
            self._loop.remove_writer(left)
            left.close()

    def _tasks(self) -> list[asyncio.Task[Any]]:
        tasks = (self._entering, *self._asking, *self._publishing, self._watching)
        return [task for task in tasks if task is not None]

    async def _watch(self) -> None:
        try:
            async for _ in self._client.messages:  # none ever comes this way, only the end
                pass
        except aiomqtt.MqttError as error:
            self.loss = error
        self._hung_up.set()
        self._ended()

    def _on_register_write(self, _client: object, _userdata: object, writable: PahoSocket) -> None:
        self._loop.call_soon_threadsafe(self._start_writing, writable)  # it may be the login's thread that asks

    def _start_writing(self, writable: PahoSocket) -> None:
        if writable.fileno() >= 0 and self._inner.want_write():
            self._loop.add_writer(writable.fileno(), self._inner.loop_write)

    def _on_connect(
        self,
        client: Client,
        userdata: object,
        flags: ConnectFlags,
        code: ReasonCode,
        properties: Properties | None = None,
    ) -> None:
        self._greeted = True
        self.session_present = flags.session_present
        if self._library_on_connect is not None:
            self._library_on_connect(client, userdata, flags, code, properties)  # type: ignore[call-arg, arg-type]

    def _on_publish(
        self, client: Client, userdata: object, number: int, code: ReasonCode, properties: Properties
    ) -> None:
        self._taken_over = int(code.value)
        if self._library_on_publish is not None:
            self._library_on_publish(client, userdata, number, code, properties)  # type: ignore[call-arg]

    def _on_disconnect(self, *arguments: object) -> None:
        self._hung_up.set()
        if self._library_on_disconnect is not None:
            self._library_on_disconnect(*arguments)  # type: ignore[arg-type]
