"""One source kept running: its pauses, what is told of it, and that it disturbs nobody."""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable

import pytest

from fermwatch.contracts.driver import Delivery, Listener
from fermwatch.contracts.store import SourceState, SourceStatus
from fermwatch.errors import ProbeRefused, ProbeUnavailable
from fermwatch.ingest import supervision
from fermwatch.ingest.pipeline import Pipeline
from fermwatch.ingest.supervision import FIRST_PAUSE_S, LONGEST_PAUSE_S, MAX_UNBOUND, Source, pause_s
from tests.unit.ingest.sources import BINDINGS, NOW, Scripted, Shelf, delivery, raw, silent, source

Script = Callable[[Listener], Awaitable[None]]


@pytest.mark.parametrize("attempt", [0, 1, 3, 6, 50, 10_000])
def test_pauses_grow_with_full_jitter_up_to_a_minute(attempt: int) -> None:
    chance = random.Random(attempt)
    pauses = [pause_s(attempt, chance) for _ in range(2000)]
    ceiling = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** min(attempt, 10))
    assert min(pauses) >= FIRST_PAUSE_S / 2
    assert max(pauses) <= ceiling
    assert ceiling <= 4.0, "what answers again is heard within seconds"
    assert max(pauses) - min(pauses) > 0.9 * (ceiling - FIRST_PAUSE_S / 2)


async def _take(_source: Source, _delivery: Delivery) -> None:
    pass


def scripted(*scripts: Script, tell: Callable[[SourceStatus], None] = lambda _: None) -> Source:
    """A source whose driver runs one script after another, and then waits."""
    waiting = list(scripts)

    async def next_one(listener: Listener) -> None:
        await (waiting.pop(0) if waiting else silent)(listener)

    return source(_take, Scripted(next_one), tell=tell)


@pytest.fixture(autouse=True)
def no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supervision, "pause_s", lambda _attempt, _chance: 0.0)
    monkeypatch.setattr(supervision, "REFUSED_PAUSE_S", 0.0)


async def run_until(one: Source, done: Callable[[], bool]) -> None:
    task = asyncio.create_task(one.keep_running())
    try:
        async with asyncio.timeout(20):
            while not done():  # noqa: ASYNC110 - nobody tells when
                await asyncio.sleep(0)
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


def failing(error: Exception) -> Script:
    async def fail(_: Listener) -> None:
        raise error

    return fail


async def connect(listener: Listener) -> None:
    listener.connected("the port at 115200 baud")
    await asyncio.Event().wait()


ABSENT = ProbeUnavailable("There is no port.", hint="Is it plugged in?")


async def test_a_loss_and_a_return_are_each_told_once(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    told: list[SourceState] = []
    one = scripted(*[failing(ABSENT)] * 20, connect, tell=lambda status: told.append(status.state))
    await run_until(one, lambda: one.status.state is SourceState.CONNECTED)
    assert told == [SourceState.UNAVAILABLE, SourceState.CONNECTED]
    assert caplog.text.count("There is no port. Is it plugged in?") == 1
    assert caplog.text.count("is connected: the port at 115200 baud") == 1


@pytest.mark.parametrize(
    ("error", "state", "detail"),
    [
        (ABSENT, SourceState.UNAVAILABLE, "There is no port. Is it plugged in?"),
        (ProbeRefused("No permission.", hint="Join dialout."), SourceState.REFUSED, "No permission. Join dialout."),
        (ValueError("[/]\x1b"), SourceState.UNAVAILABLE, "its driver failed: ValueError: [/]\\x1b"),
    ],
)
async def test_what_a_person_must_do_is_told_apart_from_what_mends_itself(
    error: Exception, state: SourceState, detail: str
) -> None:
    one = scripted(failing(error))
    await run_until(one, lambda: one.status.state is not SourceState.STARTING)
    assert one.status.state is state
    assert one.status.detail.startswith(detail)


async def test_a_driver_that_simply_ends_is_lost_too() -> None:
    async def end(_: Listener) -> None:
        pass

    one = scripted(end)
    await run_until(one, lambda: one.status.state is SourceState.UNAVAILABLE)
    assert "its driver ended" in one.status.detail


async def test_a_strangers_mistake_is_logged_with_its_place_and_once(caplog: pytest.LogCaptureFixture) -> None:
    one = scripted(*[failing(ValueError("no good"))] * 30, connect)
    await run_until(one, lambda: one.status.state is SourceState.CONNECTED)
    assert caplog.text.count("Traceback") == 1
    assert caplog.text.count("its driver failed: ValueError: no good It is started again") == 1


async def test_a_driver_that_raises_does_not_disturb_the_one_beside_it() -> None:
    shelf = Shelf()
    pipeline = Pipeline(BINDINGS, shelf.commit)
    heard = asyncio.Event()

    async def speak(listener: Listener) -> None:
        for value in range(100):
            await listener.deliver(delivery(float(value)))
            await asyncio.sleep(0)
        await listener.deliver(delivery(100.0, settled=heard.set))
        await asyncio.Event().wait()

    good = source(pipeline.hand_over, Scripted(speak))
    bad = source(pipeline.hand_over, Scripted(failing(ValueError("no good"))), name="bad")
    wrong = source(pipeline.hand_over, Scripted(_deliver_nonsense), name="board")
    async with asyncio.timeout(20), asyncio.TaskGroup() as room:
        tasks = [room.create_task(job) for job in (pipeline.run(), *(one.keep_running() for one in (good, bad, wrong)))]
        await heard.wait()
        for task in tasks:
            task.cancel()
    assert [value for value in shelf.values if value != 55.5] == [float(value) for value in range(101)]
    assert bad.status.state is SourceState.UNAVAILABLE
    assert "TypeError" in wrong.status.detail


async def _deliver_nonsense(listener: Listener) -> None:
    """A device time without a zone cannot be compared: the contract asks for one."""
    await listener.deliver(Delivery((raw(55.5, measured_at=NOW.replace(tzinfo=None)),)))


async def test_channels_that_no_probe_has_are_named_once_and_only_so_many(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    one = scripted()
    for _ in range(3):
        one.count(0, 0, "", {f"channel-{number:03}" for number in range(100)})
    assert len(one.status.unbound_channels) == MAX_UNBOUND
    assert caplog.text.count("channel that no probe uses") == MAX_UNBOUND
