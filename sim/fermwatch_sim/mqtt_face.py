"""The invented controller as a client of a broker: it says its state there, and does what it hears in one topic."""

import asyncio
import contextlib
import json
from collections.abc import Callable

import aiomqtt

from fermwatch.model.degree import Output
from fermwatch_sim.virtual_controller import BITS, SET_POINT_AT, WISH_AT, VirtualController

# What a configuration says of it, below a name of its own.
STATE, ASK, ORDERS = "state", "ask", "orders"
WRITE = '{"target": {set-point}, "id": {id}}'
SWITCH = '{"cool": {cool}, "heat": {heat}, "lease_s": {lease}, "id": {id}}'
_AGAIN_S = 0.05
_QOS = 1


class MqttFace:
    """Connected to a broker of this machine while it is started; comes back whenever that does.

    says_itself_s: how often it says its state unasked; None never. deaf: it is connected, and does nothing. bend: what
    becomes of its state on the way out. orders: the payloads that it heard, with whether they had been retained.
    """

    def __init__(
        self,
        controller: VirtualController,
        clock_s: Callable[[], float],
        port: int,
        *,
        name: str = "cellar/fridge",
        says_itself_s: float | None = None,
        bend: Callable[[str], str | bytes] = str,
    ) -> None:
        self.controller, self.port, self.name = controller, port, name
        self.says_itself_s, self.bend = says_itself_s, bend
        self.deaf = False
        self.orders: list[tuple[bytes, bool]] = []
        self.connected = asyncio.Event()
        self._clock_s = clock_s
        self._last: object = None
        self._living: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Until it is connected for the first time, where the broker is there."""
        self._living = asyncio.create_task(self._live(), name="controller on a broker")
        await self.connected.wait()

    async def stop(self) -> None:
        living, self._living = self._living, None
        while living is not None and not living.done():  # the library may lose the word, where something ends just then
            living.cancel()
            await asyncio.wait({living}, timeout=_AGAIN_S)
        self.connected.clear()

    def state(self) -> str:
        """As it is published."""
        now_s, device = self._clock_s(), self.controller
        on = device.on(now_s)
        broken, door, dropped = device.discrete_inputs(now_s)
        said = {
            "beer": None if broken else round(device.measured_c, 1),
            "target": round(device.set_point_c, 1),
            "cool": Output.COOL in on,
            "heat": Output.HEAT in on,
            "alarms": {"probe": broken, "door": door, "dropped": dropped},
            "last": self._last,
        }
        return json.dumps(said)

    def obey(self, payload: bytes) -> bool:
        """Do one order, whole or not at all; False where it is none that it takes."""
        try:
            order = json.loads(payload)
            number = order["id"]
            if "target" in order:
                address, words = SET_POINT_AT, [round(float(order["target"]) * 10) & 0xFFFF]
            else:
                wish = int(order["cool"]) * BITS[Output.COOL] + int(order["heat"]) * BITS[Output.HEAT]
                address, words = WISH_AT, [wish, int(order["lease_s"])]
        except (ValueError, KeyError, TypeError):
            return False
        if self.controller.write(address, words, self._clock_s()) is not None:
            return False
        self._last = number
        return True

    async def _live(self) -> None:
        while True:
            with contextlib.suppress(aiomqtt.MqttError):
                await self._session()
            self.connected.clear()
            await asyncio.sleep(_AGAIN_S)

    async def _session(self) -> None:
        client = aiomqtt.Client("127.0.0.1", self.port, protocol=aiomqtt.ProtocolVersion.V5)
        async with client:
            for topic in (ASK, ORDERS):
                await client.subscribe(f"{self.name}/{topic}", qos=_QOS)
            self.connected.set()
            speaking = asyncio.create_task(self._speak(client))
            try:
                async for message in client.messages:
                    await self._hear(client, message)
            finally:
                speaking.cancel()
                await asyncio.gather(speaking, return_exceptions=True)

    async def _hear(self, client: aiomqtt.Client, message: aiomqtt.Message) -> None:
        payload = bytes(message.payload)
        is_order = message.topic.matches(f"{self.name}/{ORDERS}")
        if is_order:
            self.orders.append((payload, bool(message.retain)))
        if self.deaf:
            return
        if is_order:
            self.obey(payload)
        else:
            self._last = int(payload) if payload.isdigit() else None
        await self._say(client)

    async def _speak(self, client: aiomqtt.Client) -> None:
        every_s = self.says_itself_s
        while every_s is not None:
            if not self.deaf:
                await self._say(client)
            await asyncio.sleep(every_s)

    async def _say(self, client: aiomqtt.Client) -> None:
        await client.publish(f"{self.name}/{STATE}", self.bend(self.state()), qos=_QOS)
