"""Messages to deliveries, without a broker."""

import asyncio

import pytest
from paho.mqtt.client import MQTTMessage

from fermwatch.clock import ManualClock
from fermwatch.contracts.driver import Delivery
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD, Arrival, reader_for
from fermwatch_drivers.mqtt.traffic import MOST_UNASKED, URGENT_FROM
from fermwatch_drivers.mqtt.wire import MqttWire
from tests.conformance.recording import RecordingIntake, eventually

CHANNEL = "left/t"


def message(payload: bytes, *, packet_id: int = 0, topic: bytes = b"cellar/left/t", dup: bool = False) -> MQTTMessage:
    made = MQTTMessage(packet_id, topic)
    made.payload, made.qos, made.dup = payload, int(packet_id > 0), dup
    return made


class Wired:
    """A wire that was never connected, and what one source hears of it."""

    def __init__(self) -> None:
        options = MqttOptions(host="localhost", topic="cellar/{fermenter}/{what}")
        self.reader = reader_for("cellar", options, [CHANNEL])
        self.wire = MqttWire(options, "fermwatch-cellar", ManualClock())
        self.traffic = self.wire.enlist("cellar", self.reader.topic)
        self.over = asyncio.Event()

    def received(self, said: MQTTMessage) -> None:
        self.wire.received(said, lambda _packet_id: False)

    @property
    def waiting(self) -> list[Arrival]:
        return [one.arrival for one in self.traffic._waiting]

    async def pump(self, intake: RecordingIntake) -> None:
        await self.traffic.pump(self.reader, intake, self.over)

    async def pumped(self, intake: RecordingIntake) -> RecordingIntake:
        self.over.set()
        self.traffic.wake()
        await self.pump(intake)
        return intake


async def test_messages_that_nobody_will_send_again_are_bounded_and_the_rest_counted() -> None:
    one = Wired()
    for _ in range(MOST_UNASKED + 700):
        one.received(message(b"19.5"))
    one.received(message(b"20.5", packet_id=1))
    intake = await one.pumped(RecordingIntake())
    assert len(intake.readings) == MOST_UNASKED + 1
    assert intake.rejected == 700
    assert any("QoS 1" in rejection.reason for delivery in intake.deliveries for rejection in delivery.rejections)


async def test_deliveries_stay_small_and_others_get_their_turn() -> None:
    one, turns = Wired(), 0
    for packet_id in range(1, 1001):
        one.received(message(b"19.5", packet_id=packet_id))

    async def tick() -> None:
        nonlocal turns
        while True:
            await asyncio.sleep(0)
            turns += 1

    ticking = asyncio.create_task(tick())
    intake = await one.pumped(RecordingIntake())
    ticking.cancel()
    assert len(intake.readings) == 1000
    assert turns > 5


async def test_a_delivery_is_urgent_once_the_broker_is_about_to_fall_silent() -> None:
    one, intake = Wired(), RecordingIntake(settling=False)
    pumping = asyncio.create_task(one.pump(intake))
    for packet_id in range(1, URGENT_FROM + 1):
        one.received(message(b"19.5", packet_id=packet_id))
        await eventually(lambda: not one.waiting)
    pumping.cancel()
    assert [delivery.urgent for delivery in intake.deliveries] == [*[False] * (URGENT_FROM - 1), True]


async def test_an_enormous_payload_is_not_kept() -> None:
    one = Wired()
    one.received(message(b"9" * 4_000_000))
    assert sum(len(arrival.payload) for arrival in one.waiting) < LARGEST_PAYLOAD
    assert (await one.pumped(RecordingIntake())).rejected == 1


async def test_a_topic_that_is_not_utf_8_is_a_rejection() -> None:
    one = Wired()
    one.received(message(b"19.5", packet_id=1, topic=b"cellar/\xff/t"))
    intake = await one.pumped(RecordingIntake())
    assert (intake.readings, intake.rejected, one.wire._pending.unsettled) == ([], 1, 0)


async def test_what_could_not_be_handed_over_waits_and_is_delivered_once() -> None:
    class Full(RecordingIntake):
        async def deliver(self, delivery: Delivery) -> None:
            assert delivery.readings
            await asyncio.Event().wait()

    one = Wired()
    one.received(message(b"19.5", packet_id=1))
    pumping = asyncio.create_task(one.pump(Full()))
    await asyncio.sleep(0.01)
    pumping.cancel()
    with pytest.raises(asyncio.CancelledError):
        await pumping
    assert len(one.waiting) == 1
    one.received(message(b"19.5", packet_id=1, dup=True))
    assert (await one.pumped(RecordingIntake())).values(CHANNEL) == [19.5]
    assert one.wire._pending.unsettled == 0


async def test_what_can_never_be_handed_over_is_left_out_and_holds_up_nothing() -> None:
    class Stumbling(RecordingIntake):
        async def deliver(self, delivery: Delivery) -> None:
            if not self.details:
                self.connected("stumbled once")
                raise TypeError("no good")
            await super().deliver(delivery)

    one, intake = Wired(), Stumbling()
    one.received(message(b"19.5", packet_id=1))
    with pytest.raises(TypeError):
        await one.pumped(intake)
    one.received(message(b"20.5", packet_id=2))
    assert (await one.pumped(intake)).values(CHANNEL) == [20.5]
    assert one.wire._pending.unsettled == 0


async def test_a_session_begins_with_its_first_message_also_where_older_ones_wait() -> None:
    one, intake = Wired(), RecordingIntake()
    one.received(message(b"18.5", packet_id=1))
    one.wire._begin_a_session()
    one.received(message(b"19.5", packet_id=1))
    one.received(message(b"20.5", packet_id=2))
    await one.pumped(intake)
    said = [([reading.value for reading in one.readings], one.new_session) for one in intake.deliveries]
    assert said == [([18.5], False), ([19.5, 20.5], True)]
