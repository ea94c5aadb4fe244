"""Messages to deliveries, without a broker."""

import asyncio

import pytest
from paho.mqtt.client import MQTTMessage

from fermwatch.clock import ManualClock
from fermwatch.contracts.driver import Delivery
from fermwatch_drivers.mqtt.options import MqttOptions
from fermwatch_drivers.mqtt.payload import LARGEST_PAYLOAD, reader_for
from fermwatch_drivers.mqtt.pending import PendingMessages
from fermwatch_drivers.mqtt.traffic import MOST_UNASKED, URGENT_FROM, Traffic
from tests.conformance.recording import RecordingIntake, eventually

CHANNEL = "left/t"


def message(payload: bytes, *, packet_id: int = 0, topic: bytes = b"cellar/left/t", dup: bool = False) -> MQTTMessage:
    made = MQTTMessage(packet_id, topic)
    made.payload, made.qos, made.dup = payload, int(packet_id > 0), dup
    return made


def traffic() -> Traffic:
    options = MqttOptions(host="localhost", topic="cellar/{fermenter}/{what}")
    return Traffic(reader_for("cellar", options, [CHANNEL]), PendingMessages(), ManualClock())


async def pumped(one: Traffic, intake: RecordingIntake) -> RecordingIntake:
    one.ended()
    await one.pump(intake)
    return intake


async def test_messages_that_nobody_will_send_again_are_bounded_and_the_rest_counted() -> None:
    one = traffic()
    for _ in range(MOST_UNASKED + 700):
        one.received(message(b"19.5"))
    one.received(message(b"20.5", packet_id=1))
    intake = await pumped(one, RecordingIntake())
    assert len(intake.readings) == MOST_UNASKED + 1
    assert intake.rejected == 700
    assert any("QoS 1" in rejection.reason for delivery in intake.deliveries for rejection in delivery.rejections)


async def test_deliveries_stay_small_and_others_get_their_turn() -> None:
    one, turns = traffic(), 0
    for packet_id in range(1, 1001):
        one.received(message(b"19.5", packet_id=packet_id))

    async def tick() -> None:
        nonlocal turns
        while True:
            await asyncio.sleep(0)
            turns += 1

    ticking = asyncio.create_task(tick())
    intake = await pumped(one, RecordingIntake())
    ticking.cancel()
    assert len(intake.readings) == 1000
    assert turns > 5


async def test_a_delivery_is_urgent_once_the_broker_is_about_to_fall_silent() -> None:
    one, intake = traffic(), RecordingIntake(settling=False)
    pumping = asyncio.create_task(one.pump(intake))
    for packet_id in range(1, URGENT_FROM + 1):
        one.received(message(b"19.5", packet_id=packet_id))
        await eventually(lambda: not one._arrived)
    pumping.cancel()
    assert [delivery.urgent for delivery in intake.deliveries] == [*[False] * (URGENT_FROM - 1), True]


async def test_an_enormous_payload_is_not_kept() -> None:
    one = traffic()
    one.received(message(b"9" * 4_000_000))
    assert sum(len(arrival.payload) for arrival in one._arrived) < LARGEST_PAYLOAD
    assert (await pumped(one, RecordingIntake())).rejected == 1


async def test_a_topic_that_is_not_utf_8_is_a_rejection() -> None:
    one = traffic()
    one.received(message(b"19.5", packet_id=1, topic=b"cellar/\xff/t"))
    intake = await pumped(one, RecordingIntake())
    assert (intake.readings, intake.rejected, one.pending.unsettled) == ([], 1, 0)


async def test_what_could_not_be_handed_over_is_new_when_it_comes_again() -> None:
    class Full(RecordingIntake):
        async def deliver(self, delivery: Delivery) -> None:
            assert delivery.readings
            await asyncio.Event().wait()

    one = traffic()
    one.received(message(b"19.5", packet_id=1))
    pumping = asyncio.create_task(one.pump(Full()))
    await asyncio.sleep(0.01)
    pumping.cancel()
    with pytest.raises(asyncio.CancelledError):
        await pumping
    assert one.pending.unsettled == 0
    one.received(message(b"19.5", packet_id=1, dup=True))
    assert (await pumped(one, RecordingIntake())).values(CHANNEL) == [19.5]
