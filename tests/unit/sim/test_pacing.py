"""Pacing: no minute passes before it is committed, none is waited for in vain for ever."""

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from fermwatch.clock import SystemClock
from fermwatch_sim.cellar import Cellar, ProbeValue, Written
from fermwatch_sim.pacing import passages
from fermwatch_sim.scenario import WireKind, load
from fermwatch_sim.wires import Wire

START = datetime(2026, 3, 14, 18, tzinfo=UTC)


@dataclass
class Listener:
    """A wire and the store behind it, which commits a while after it was sent something, or never."""

    after_polls: int = 0
    deaf: bool = False
    sent: list[ProbeValue] = field(default_factory=list)
    stored: dict[str, datetime] = field(default_factory=dict)
    polls: int = 0

    async def send(self, samples: Sequence[ProbeValue]) -> None:
        self.sent.extend(samples)
        self.polls = 0

    async def committed(self) -> Mapping[str, datetime]:
        self.polls += 1
        if self.polls > self.after_polls and not self.deaf:
            self.stored.update({sample.probe: sample.at for sample in self.sent})
        return self.stored


def cellar() -> Cellar:
    cellar = Cellar(load("demo"), start=START)
    cellar.history()
    return cellar


async def test_every_minute_is_committed_before_it_is_over() -> None:
    listener = Listener(after_polls=3)
    wires: dict[WireKind, Wire] = {WireKind.SERIAL: listener}
    seen = []
    async for passage in passages(cellar(), wires, listener.committed, until=START + timedelta(minutes=30)):
        for sample in passage.samples:
            assert listener.stored[sample.probe] >= sample.at
        seen.append(passage.now)
    assert seen[0] == START + timedelta(minutes=1)
    assert seen[-1] == START + timedelta(minutes=30)
    assert all(later - earlier == timedelta(minutes=1) for earlier, later in pairwise(seen))


async def test_longer_steps_send_the_same_samples() -> None:
    told = []
    for step_min in (1, 7):
        listener = Listener()
        wires: dict[WireKind, Wire] = {WireKind.SERIAL: listener}
        step = timedelta(minutes=step_min)
        async for _ in passages(cellar(), wires, listener.committed, step=step, until=START + timedelta(minutes=30)):
            pass
        told.append(listener.sent)
    assert told[0] == told[1]


async def test_each_probe_goes_by_its_own_wire_and_by_serial_where_there_is_no_broker() -> None:
    serial, mqtt = Listener(), Listener()

    async def committed() -> Mapping[str, datetime]:
        return {**await serial.committed(), **await mqtt.committed()}

    until = START + timedelta(minutes=1)
    both: dict[WireKind, Wire] = {WireKind.SERIAL: serial, WireKind.MQTT: mqtt}
    async for _ in passages(cellar(), both, committed, until=until):
        pass
    assert {sample.probe.split("-")[0] for sample in mqtt.sent} == {"right"}
    assert {sample.probe.split("-")[0] for sample in serial.sent} == {"left", "middle"}

    alone = Listener()
    wires: dict[WireKind, Wire] = {WireKind.SERIAL: alone}
    async for _ in passages(cellar(), wires, alone.committed, until=until):
        pass
    assert {sample.probe.split("-")[0] for sample in alone.sent} == {"left", "middle", "right"}


async def test_what_is_lost_on_the_line_holds_time_up_only_so_long() -> None:
    listener = Listener(deaf=True)
    wires: dict[WireKind, Wire] = {WireKind.SERIAL: listener}
    async with asyncio.timeout(30.0):
        seen = [
            passage.now
            async for passage in passages(
                cellar(), wires, listener.committed, until=START + timedelta(minutes=3), patience_s=0.05
            )
        ]
    assert len(seen) == 3


async def test_speed_is_a_ceiling() -> None:
    listener, clock = Listener(), SystemClock()
    wires: dict[WireKind, Wire] = {WireKind.SERIAL: listener}
    began_s = clock.monotonic_s()
    async for _ in passages(
        cellar(), wires, listener.committed, speed=3600.0, until=START + timedelta(minutes=12), clock=clock
    ):
        pass
    assert clock.monotonic_s() - began_s >= 0.2 - 0.02


async def test_it_ends_by_itself_where_the_stories_end() -> None:
    listener = Listener()
    wires: dict[WireKind, Wire] = {WireKind.SERIAL: listener}
    told = cellar()
    entries: list[Written] = []
    async with asyncio.timeout(60.0):
        async for passage in passages(told, wires, listener.committed, step=timedelta(hours=1)):
            entries.extend(passage.entries)
    assert told.now == told.ends
    assert any("Jacket" in getattr(entry.written, "text", "") for entry in entries)


async def test_an_error_of_a_wire_is_raised() -> None:
    class Torn:
        async def send(self, samples: Sequence[ProbeValue]) -> None:
            raise ConnectionError(f"torn at {samples[0].at:%H:%M}")

    with pytest.raises(ConnectionError, match="torn at 18:01"):
        async for _ in passages(cellar(), {WireKind.SERIAL: Torn()}, Listener().committed):
            pass
