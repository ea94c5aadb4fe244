"""Parts that ingest works with: series, a raw reading, a store that fails, a driver that does as it is told."""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from fermwatch.clock import ManualClock
from fermwatch.contracts.driver import Delivery, Driver, Listener
from fermwatch.contracts.store import SourceStatus, StoredProbe
from fermwatch.errors import StoreError
from fermwatch.ingest.pipeline import Intake, Pipeline
from fermwatch.ingest.supervision import HandOver, Source
from fermwatch.model.probe import Probe
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import RawReading

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def series(number: int, quantity: Quantity = Quantity.BEER_TEMPERATURE, **changed: Any) -> StoredProbe:  # noqa: ANN401
    probe = Probe(f"probe-{number}", "left", quantity, "board", f"t{number}", CANONICAL_UNIT[quantity])
    return StoredProbe(number, replace(probe, **changed))


BINDINGS = {("board", "t1"): series(1), ("board", "g"): series(2, Quantity.GRAVITY)}


def raw(value: float, channel: str = "t1", **more: Any) -> RawReading:  # noqa: ANN401
    return RawReading(channel, value, more.pop("received_at", NOW), **more)


@dataclass
class Shelf:
    """What was committed, in order. `failing`: how many commits fail first; `gate`: closed, a commit waits."""

    failing: int = 0
    error: StoreError = field(default_factory=lambda: StoreError("The disk is full.", hint="Free some space."))
    intakes: list[Intake] = field(default_factory=list)
    gate: asyncio.Event = field(default_factory=asyncio.Event)
    tried: int = 0

    def __post_init__(self) -> None:
        self.gate.set()

    async def commit(self, intake: Intake) -> None:
        await self.gate.wait()
        self.tried += 1
        if self.tried <= self.failing:
            raise self.error
        self.intakes.append(intake)

    @property
    def values(self) -> list[float]:
        return [reading.value for intake in self.intakes for reading in intake.readings]


@dataclass
class Scripted:
    """A driver that does what it is given."""

    script: Callable[[Listener], Awaitable[None]]

    async def run(self, listener: Listener) -> None:
        await self.script(listener)


def source(
    hand_over: HandOver,
    driver: Driver | None = None,
    name: str = "board",
    tell: Callable[[SourceStatus], None] = lambda _: None,
) -> Source:
    return Source(name, "scripted", driver or Scripted(silent), hand_over, tell, ManualClock(NOW))


def board(pipeline: Pipeline) -> Source:
    return source(pipeline.hand_over)


async def silent(_: Listener) -> None:
    await asyncio.Event().wait()


def delivery(*values: float, settled: Callable[[], None] | None = None, urgent: bool = False) -> Delivery:
    return Delivery(tuple(raw(value) for value in values), settled=settled, urgent=urgent)
