"""A controller behind a broker: nothing that is late, retained, lost or forged is taken for what it shows now, and no
order is carried out but in its time.
"""

import asyncio
import contextlib
import subprocess
import time
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.controller import Controller, Order, OrderResult, SetPoint
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeRefused, ProbeUnavailable
from fermwatch_drivers.mqtt.controller import CONTROLLER
from fermwatch_sim.mqtt_face import MqttFace
from fermwatch_sim.virtual_controller import VirtualController
from tests.conformance.controllers import on_a_broker
from tests.conformance.recording import eventually
from tests.conformance.test_controllers import RecordingHearing
from tests.conformance.test_drivers import stop
from tests.support.broker import Broker

pytestmark = pytest.mark.needs_broker

STATE, ORDERS = "cellar/fridge/state", "cellar/fridge/orders"
UNASKED = {"ask_topic": None, "echo": None, "every_s": 0.5}


@pytest.fixture
async def broker(tmp_path: Path) -> AsyncIterator[Broker]:
    made = Broker(tmp_path / "broker")
    await asyncio.to_thread(made.start)
    yield made
    await asyncio.to_thread(made.kill)


@contextlib.asynccontextmanager
async def device_on(broker: Broker, says_itself_s: float | None = None) -> AsyncIterator[MqttFace]:
    face = MqttFace(VirtualController(), time.monotonic, broker.port, says_itself_s=says_itself_s)
    await face.start()
    try:
        yield face
    finally:
        await face.stop()


def controller_at(port: int, **changes: object) -> Controller:
    said = {**on_a_broker(), "port": port, "answer_limit_s": 0.5, **changes}
    options = CONTROLLER.options.model_validate({key: value for key, value in said.items() if value is not None})
    return CONTROLLER.create("fridge", options, SystemClock(), Wires())


def order(target_c: float, lasts_s: float = 10.0) -> Order:
    at = datetime.now(UTC)
    return Order("an order", at, at + timedelta(seconds=lasts_s), SetPoint(target_c))


class Gate:
    """A network between a client and a broker that holds what it carries while it is shut. ends: how clients left.

    shuts_at: what shuts it when a client sends it.
    """

    def __init__(self, to_port: int, shuts_at: bytes = b"") -> None:
        self._to_port, self._shuts_at = to_port, shuts_at
        self.open = asyncio.Event()
        self.open.set()
        self.inward = asyncio.Event()
        self.inward.set()
        self.ends: list[str] = []

    async def __aenter__(self) -> int:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        port: int = self._server.sockets[0].getsockname()[1]
        return port

    async def __aexit__(self, *_: object) -> None:
        self._server.close()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        there, back = await asyncio.open_connection("127.0.0.1", self._to_port)
        ways = [self._copy(reader, back, self.open), self._copy(there, writer, self.inward)]
        tasks = [asyncio.create_task(way) for way in ways]
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        for task in tasks:
            task.cancel()
        self.ends += [str(one) for one in await asyncio.gather(*tasks, return_exceptions=True) if isinstance(one, str)]
        for end in (writer, back):
            end.transport.abort()

    async def _copy(self, source: asyncio.StreamReader, target: asyncio.StreamWriter, way: asyncio.Event) -> str:
        """What comes while it is shut waits in its hands, and is dropped where the sender gives up by a reset."""
        try:
            while data := await source.read(4096):
                if self._shuts_at and self._shuts_at in data:
                    way.clear()
                if not way.is_set():
                    await self._hold(source, way)
                target.write(data)
        except ConnectionError:
            return "reset"
        return "closed"

    async def _hold(self, source: asyncio.StreamReader, way: asyncio.Event) -> None:
        while not way.is_set():
            if source.exception() is not None:
                raise ConnectionResetError
            await asyncio.sleep(0.01)


async def test_an_order_that_is_not_confirmed_is_dropped_with_the_connection(broker: Broker) -> None:
    """The cable is out when it is sent: it must not be done when somebody puts it back."""
    gate = Gate(broker.port, shuts_at=b'"id"')
    async with device_on(broker, 0.1) as face, gate as port:
        controller, hearing = controller_at(port, **UNASKED), RecordingHearing()
        running = asyncio.create_task(controller.run(hearing))
        await hearing.until_connected()
        response = await controller.ask(order(20.0))
        assert response.result is OrderResult.UNANSWERED
        assert "did not take over what was published" in response.detail
        with pytest.raises(ProbeUnavailable):
            await running
        await eventually(lambda: gate.ends)
        assert gate.ends == ["reset"]
        gate.open.set()
        await asyncio.sleep(0.5)
        assert face.orders == []
        assert (await controller.read()).set_point_c == 18.0


async def test_a_broker_that_stood_still_gives_nothing_late(broker: Broker) -> None:
    async with device_on(broker) as face:
        controller = controller_at(broker.port)
        await controller.read()
        broker.pause()
        response = await controller.ask(order(20.0))
        assert response.result is OrderResult.UNANSWERED
        broker.resume()
        await asyncio.sleep(0.5)
        assert face.orders == []
        assert (await controller.read()).set_point_c == 18.0


async def test_a_controller_that_was_away_finds_no_order_that_has_expired(broker: Broker) -> None:
    """One with a lasting session, for which a broker keeps what it misses."""
    listen = ["mosquitto_sub", "-h", "127.0.0.1", "-p", str(broker.port), "-i", "belt", "-c", "-q", "1", "-t", ORDERS]
    five = ["-V", "5", "-x", "3600"]
    first = await asyncio.create_subprocess_exec(*listen, *five, "-E")
    assert await first.wait() == 0
    async with device_on(broker, 0.1):
        controller = controller_at(broker.port, **UNASKED)
        assert (await controller.ask(order(20.0, lasts_s=2.0))).result is OrderResult.UNANSWERED
        assert (await controller.ask(order(21.0, lasts_s=30.0))).result is OrderResult.UNANSWERED
    await asyncio.sleep(2.5)
    back = await asyncio.create_subprocess_exec(*listen, *five, "-W", "2", "-F", "%r %E %p", stdout=subprocess.PIPE)
    heard = (await back.communicate())[0].decode().splitlines()
    assert len(heard) == 1, heard
    retained, expires_s, payload = heard[0].split(maxsplit=2)
    assert retained == "0"
    assert 0 < int(expires_s) < 30
    assert '"target": 21' in payload


async def test_what_was_retained_is_not_what_it_shows(broker: Broker) -> None:
    """By the state of a controller that has gone, and by somebody's old word."""
    await asyncio.to_thread(broker.publish, STATE, '{"beer": 12.5, "target": 11}', retain=True)
    controller, hearing = controller_at(broker.port, **UNASKED), RecordingHearing()
    with pytest.raises(ProbeUnavailable, match="Nothing was said in cellar/fridge/state"):
        await controller.read()
    with pytest.raises(ProbeUnavailable, match="every_s or ask_topic"):
        await controller.run(hearing)
    assert not hearing.readings
    assert not hearing.pictures


async def test_what_lay_in_a_buffer_is_not_fresh(broker: Broker) -> None:
    """As after a stop of ours: what was said meanwhile comes first, and is passed over."""
    gate = Gate(broker.port)
    async with gate as port:
        controller, hearing = controller_at(port, **UNASKED, answer_limit_s=3.0), RecordingHearing()
        running = asyncio.create_task(controller.run(hearing))
        say = '{{"beer": {}, "target": 18, "cool": 0, "heat": 0, "alarms": {{"probe": 0, "door": 0, "dropped": 0}}}}'
        await eventually(lambda: "subscribe" in broker.log().lower())
        await asyncio.to_thread(broker.publish, STATE, say.format(18.0))
        await hearing.until_connected()
        gate.inward.clear()
        for _ in range(3):
            await asyncio.to_thread(broker.publish, STATE, say.format(12.0))
        reading = asyncio.create_task(controller.read())
        await asyncio.sleep(0.2)
        gate.inward.set()
        await asyncio.sleep(0.2)
        await asyncio.to_thread(broker.publish, STATE, say.format(19.0))
        assert (await reading).measured_c == 19.0
        await stop(running)


async def test_an_answer_to_another_question_is_none(broker: Broker) -> None:
    """Late, twice or forged: only what repeats the number of the question is its answer."""
    async with device_on(broker) as face:
        stale = face.state().replace('"beer": 18.0', '"beer": 12.0')
        face.bend = lambda state: stale  # noqa: ARG005
        controller = controller_at(broker.port)
        with pytest.raises(ProbeUnavailable, match="Nothing that answers us"):
            await controller.read()
        face.bend = str
        reading = asyncio.create_task(controller.read())
        await asyncio.to_thread(broker.publish, STATE, stale)
        assert (await reading).measured_c == 18.0


async def test_an_order_that_is_lost_is_not_called_done_and_one_that_is_done_is(broker: Broker) -> None:
    async with device_on(broker) as face:
        controller = controller_at(broker.port)
        assert (await controller.ask(order(20.0))).result is OrderResult.TAKEN
        face.deaf = True
        lost = await controller.ask(order(21.0))
        assert (lost.result, lost.detail) == (
            OrderResult.UNANSWERED,
            "the broker took it, the controller did not say so",
        )
        face.deaf = False
        assert (await controller.read()).set_point_c == 20.0
        assert [retained for _, retained in face.orders] == [False, False]
    assert (await controller.ask(order(22.0))).result is OrderResult.UNANSWERED, "it is gone"


async def test_an_order_that_somebody_retained_stops_all_of_ours_until_it_is_gone(broker: Broker) -> None:
    """It is obeyed whenever the controller connects: against it nothing of ours would last."""
    async with device_on(broker):
        await asyncio.to_thread(broker.publish, ORDERS, '{"target": 30, "id": 1}', retain=True)
        controller, hearing = controller_at(broker.port), RecordingHearing()
        running = asyncio.create_task(controller.run(hearing))
        await hearing.until_connected()
        refused = await controller.ask(order(20.0))
        assert refused.result is OrderResult.REFUSED
        assert "cellar/fridge/orders lies a message that somebody retained" in refused.detail
        await hearing.until(lambda _: hearing.rejected > 0)
        await asyncio.to_thread(broker.clear, ORDERS)
        await eventually_taken(controller)
        await asyncio.to_thread(broker.publish, ORDERS, '{"target": 30, "id": 2}', retain=True)
        assert (await controller.ask(order(21.0))).result is OrderResult.REFUSED, "also while we are connected"
        await stop(running)


async def eventually_taken(controller: Controller) -> None:
    async with asyncio.timeout(20):
        while (await controller.ask(order(20.0))).result is not OrderResult.TAKEN:  # noqa: ASYNC110
            await asyncio.sleep(0.05)


async def test_hostile_states_are_survived_and_the_next_good_one_is_heard(broker: Broker) -> None:
    async with device_on(broker, 0.05) as face:
        controller, hearing = controller_at(broker.port, **UNASKED), RecordingHearing()
        running = asyncio.create_task(controller.run(hearing))
        await hearing.until_connected()
        for payload in (
            b'{"beer": NaN}',
            b"[" * 50_000,
            b'{"beer": 1e999}',
            b"x" * 200_000,
            b"\xff\x00",
            b"\x1b]0;x\x07",
        ):
            face.bend = partial(_instead, payload)
            before = hearing.rejected
            await hearing.until(lambda _: hearing.rejected > before)  # noqa: B023
            assert (await controller.read()).measured_c is None
        face.bend, face.controller.measured_c = str, 17.25
        await hearing.until_heard("measured", 17.2)
        assert set(hearing.values("measured")) <= {18.0, 17.2}
        await stop(running)


def _instead(payload: bytes, _state: str) -> bytes:
    return payload


async def test_a_broker_that_does_not_let_us_publish_says_so(tmp_path: Path) -> None:
    directory = tmp_path / "strict"
    directory.mkdir()
    (directory / "acl").write_text(f"user left\ntopic readwrite cellar/#\nuser watcher\ntopic read {STATE}\n")
    users = {"left": "a", "watcher": "b"}
    (tmp_path / "word").write_text("b")
    (tmp_path / "word").chmod(0o600)
    login = {"username": "watcher", "password_file": str(tmp_path / "word")}
    with Broker(directory, users=users, settings=[f"acl_file {directory / 'acl'}"]) as broker:
        saying = asyncio.create_task(_say_on(broker))
        refused = await controller_at(broker.port, **UNASKED, **login).ask(order(20.0))
        assert refused.result is OrderResult.REFUSED, refused
        assert "does not let us publish in cellar/fridge/orders" in refused.detail
        with pytest.raises(ProbeUnavailable, match="may this user read it"):  # this broker tells nobody that it may not
            await controller_at(broker.port, **UNASKED, **login, measured="cellar/other").read()
        await stop(saying)


async def _say_on(broker: Broker) -> None:
    while True:
        await asyncio.to_thread(broker.publish, STATE, '{"beer": 18}')
        await asyncio.sleep(0.1)


async def test_a_broker_of_3_1_1_is_asked_nothing() -> None:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(200)
        writer.write(b"\x20\x02\x00\x01")  # CONNACK: unacceptable protocol version, MQTT 3.1.1 section 3.2.2.3
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    controller = controller_at(server.sockets[0].getsockname()[1])
    with pytest.raises(ProbeRefused, match=r"knows MQTT 3\.1\.1 only, in which no order expires"):
        await controller.read()
    assert (await controller.ask(order(20.0))).result is OrderResult.REFUSED
    server.close()


async def test_two_brokers_that_come_and_go_are_no_concern_of_each_other(tmp_path: Path) -> None:
    with Broker(tmp_path / "one") as one, Broker(tmp_path / "other") as other:
        async with device_on(one, 0.1) as here, device_on(other, 0.1) as there:
            here.controller.measured_c, there.controller.measured_c = 15.0, 21.0
            wires, clock = Wires(), SystemClock()
            pair = []
            for name, port in (("here", one.port), ("there", other.port)):
                options = CONTROLLER.options.model_validate({**on_a_broker(), "port": port})
                pair.append(CONTROLLER.create(name, options, clock, wires))
            for broker, face in ((one, here), (other, there)) * 2:
                await asyncio.to_thread(broker.restart)
                assert (await pair[broker is one].read()).measured_c == (21.0 if broker is one else 15.0)
                await eventually(face.connected.is_set)
                async with asyncio.timeout(20):
                    while True:
                        with contextlib.suppress(ProbeUnavailable):
                            seen = [(await each.read()).measured_c for each in pair]
                            break
                assert seen == [15.0, 21.0]
