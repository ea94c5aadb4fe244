"""From deliveries to commits: nothing settled before it is safe, nothing lost, nothing out of order."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial

import pytest

from fermwatch.contracts.driver import Delivery, Rejection
from fermwatch.ingest import pipeline as module
from fermwatch.ingest.pipeline import QUEUE_DELIVERIES, Pipeline
from tests.unit.ingest.sources import BINDINGS, Shelf, board, delivery, raw

GUARD_S = 20.0


@pytest.fixture(autouse=True)
def quick_retry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "RETRY_S", 0.001)


@asynccontextmanager
async def running(pipeline: Pipeline) -> AsyncIterator[None]:
    task = asyncio.create_task(pipeline.run())
    try:
        async with asyncio.timeout(GUARD_S):
            yield
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def test_a_delivery_is_settled_after_its_commit_and_not_before() -> None:
    shelf, settled = Shelf(), asyncio.Event()
    shelf.gate.clear()
    pipeline = Pipeline(BINDINGS, shelf.commit)
    async with running(pipeline):
        await pipeline.hand_over(board(pipeline), delivery(19.4, settled=settled.set))
        for _ in range(20):
            await asyncio.sleep(0)
        assert not settled.is_set()
        shelf.gate.set()
        await settled.wait()
    assert shelf.values == [19.4]


@pytest.mark.parametrize("failing", [1, 2, 3, 7])
async def test_a_store_that_fails_n_times_loses_nothing_keeps_the_order_and_is_told_once(
    failing: int, caplog: pytest.LogCaptureFixture
) -> None:
    shelf, settled, troubles = Shelf(failing), list[int](), list[str]()
    pipeline = Pipeline(BINDINGS, shelf.commit, trouble=troubles.append)
    here = board(pipeline)
    async with running(pipeline):
        for number in range(50):
            await pipeline.hand_over(here, delivery(float(number), settled=partial(settled.append, number)))
        await pipeline.drained()
    assert shelf.values == [float(number) for number in range(50)]
    assert settled == list(range(50))
    assert troubles == ["The disk is full. Free some space.", ""]
    assert caplog.text.count("nothing can be stored: The disk is full. Free some space.") == 1
    assert caplog.text.count("the store takes readings again") == 1


async def test_what_arrives_while_a_commit_runs_is_the_next_commit() -> None:
    shelf = Shelf()
    shelf.gate.clear()
    pipeline = Pipeline(BINDINGS, shelf.commit)
    here = board(pipeline)
    async with running(pipeline):
        await pipeline.hand_over(here, delivery(0.0))
        await asyncio.sleep(0)
        for number in range(1, 30):
            await pipeline.hand_over(here, delivery(float(number)))
        shelf.gate.set()
        await pipeline.drained()
    assert [len(intake.readings) for intake in shelf.intakes] == [1, 29]


async def test_a_store_that_cannot_keep_up_makes_the_sender_wait() -> None:
    shelf = Shelf()
    shelf.gate.clear()
    pipeline = Pipeline(BINDINGS, shelf.commit)
    here, handed = board(pipeline), 0

    async def speak() -> None:
        nonlocal handed
        for number in range(3 * QUEUE_DELIVERIES):
            await pipeline.hand_over(here, delivery(number / 100))
            handed += 1

    async with running(pipeline):
        speaking = asyncio.create_task(speak())
        for _ in range(10):
            await asyncio.sleep(0)
        assert handed <= 2 * QUEUE_DELIVERIES + 1
        assert not speaking.done()
        shelf.gate.set()
        await speaking
        await pipeline.drained()
    assert len(shelf.values) == 3 * QUEUE_DELIVERIES


async def test_with_commits_far_apart_readings_are_gathered_until_a_sender_waits() -> None:
    shelf = Shelf()
    pipeline = Pipeline(BINDINGS, shelf.commit, commit_every_s=300.0)
    here, settled = board(pipeline), asyncio.Event()
    async with running(pipeline):
        for number in range(5):
            await pipeline.hand_over(here, delivery(float(number)))
            await asyncio.sleep(0)
        assert shelf.intakes == []
        await pipeline.hand_over(here, delivery(5.0, settled=settled.set, urgent=True))
        await settled.wait()
    assert [len(intake.readings) for intake in shelf.intakes] == [6]


async def test_it_gathers_no_longer_than_it_is_told_and_no_more_than_one_commit_holds(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "COMMIT_READINGS", 10)
    shelf = Shelf()
    pipeline = Pipeline(BINDINGS, shelf.commit, commit_every_s=300.0)
    here, settled = board(pipeline), asyncio.Event()
    async with running(pipeline):
        for number in range(10):
            await pipeline.hand_over(here, delivery(float(number), settled=settled.set if number == 9 else None))
        await settled.wait()
    soon = Pipeline(BINDINGS, shelf.commit, commit_every_s=0.01)
    settled.clear()
    async with running(soon):
        await soon.hand_over(board(soon), delivery(1.0, settled=settled.set))
        await settled.wait()
    assert [len(intake.readings) for intake in shelf.intakes] == [10, 1]


async def test_a_stop_does_not_wait_for_a_late_commit() -> None:
    shelf = Shelf()
    pipeline = Pipeline(BINDINGS, shelf.commit, commit_every_s=300.0)
    here = board(pipeline)
    async with running(pipeline):
        await pipeline.hand_over(here, delivery(1.0))
        await asyncio.sleep(0)
        await pipeline.hand_over(here, delivery(2.0))
        await pipeline.drained()
    assert shelf.values == [1.0, 2.0]


async def test_what_holds_no_reading_is_settled_in_its_turn_and_commits_nothing() -> None:
    shelf, settled = Shelf(), asyncio.Event()
    pipeline = Pipeline(BINDINGS, shelf.commit)
    here = board(pipeline)
    nonsense = Delivery(rejections=(Rejection("not a number", "x", "t1", count=40),), settled=settled.set)
    async with running(pipeline):
        await pipeline.hand_over(here, nonsense)
        await settled.wait()
    assert shelf.tried == 0
    assert here.status.rejected == 40
    assert here.status.last_rejection == "t1 not a number x"


async def test_what_becomes_of_each_reading_is_counted_at_its_source() -> None:
    shelf = Shelf()
    pipeline = Pipeline(BINDINGS, shelf.commit)
    here = board(pipeline)
    mixed = Delivery((raw(19.4), raw(float("nan")), raw(1.0, "new"), raw(19.0, retained=True)))
    async with running(pipeline):
        await pipeline.hand_over(here, mixed)
        await pipeline.drained()
    assert shelf.values == [19.4]
    assert [latest.value for latest in shelf.intakes[0].last_known] == [19.0]
    assert (here.status.readings, here.status.rejected) == (1, 1)
    assert here.status.unbound_channels == ("new",)


async def test_a_driver_that_fails_when_it_is_settled_does_not_stop_the_others(
    caplog: pytest.LogCaptureFixture,
) -> None:
    shelf, settled = Shelf(), asyncio.Event()

    def fail() -> None:
        raise ValueError("a stranger's mistake")

    pipeline = Pipeline(BINDINGS, shelf.commit)
    async with running(pipeline):
        await pipeline.hand_over(board(pipeline), delivery(1.0, settled=fail))
        await pipeline.hand_over(board(pipeline), delivery(2.0, settled=settled.set))
        await settled.wait()
    assert shelf.values == [1.0, 2.0]
    assert "a stranger's mistake" in caplog.text
