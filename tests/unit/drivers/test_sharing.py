"""One connection and its users: who opens, who is told of its end, and who closes."""

import asyncio
from collections.abc import Callable

import pytest

from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError, ProbeUnavailable
from fermwatch_drivers.sharing import Shared


class Pipe:
    """A connection that ends when `cut` is set."""

    def __init__(self) -> None:
        self.cut = asyncio.Event()
        self.told = asyncio.Event()

    def ended(self, _error: BaseException) -> None:
        self.told.set()


class Plumber:
    """Opens pipes, and counts how many are open."""

    def __init__(self) -> None:
        self.open = self.most = self.opened = 0
        self.absent = False
        self.shared: Shared[Pipe] = Shared("pipe", self._run)

    async def _run(self, opened: Callable[[Pipe], None]) -> None:
        await asyncio.sleep(0.001)
        if self.absent:
            raise ProbeUnavailable("There is no pipe.")
        pipe = Pipe()
        self.open += 1
        self.opened += 1
        self.most = max(self.most, self.open)
        try:
            opened(pipe)
            await pipe.cut.wait()
            raise ProbeUnavailable("The pipe was cut.")
        finally:
            await asyncio.sleep(0.001)
            self.open -= 1


async def test_it_is_opened_once_and_closed_when_the_last_one_leaves() -> None:
    plumber, both_in, may_go = Plumber(), asyncio.Barrier(3), [asyncio.Event(), asyncio.Event()]

    async def use(number: int) -> Pipe:
        async with plumber.shared.used() as pipe:
            await both_in.wait()
            await may_go[number].wait()
        return pipe

    users = [asyncio.create_task(use(number)) for number in (0, 1)]
    await both_in.wait()
    may_go[0].set()
    await users[0]
    assert plumber.open == 1
    may_go[1].set()
    assert await users[0] is await users[1]
    assert (plumber.open, plumber.opened) == (0, 1)


async def test_all_are_told_of_its_end_and_whoever_comes_next_opens_anew() -> None:
    plumber = Plumber()
    async with plumber.shared.used() as mine, plumber.shared.used() as yours:
        mine.cut.set()
        await asyncio.wait_for(yours.told.wait(), 20)
        assert plumber.open == 0, "closed before it is told"
        async with plumber.shared.used() as next_one:
            assert next_one is not mine
    assert plumber.open == 0


async def test_what_cannot_be_opened_is_told_to_each_who_waits() -> None:
    plumber = Plumber()
    plumber.absent = True

    async def use() -> None:
        async with plumber.shared.used():
            pass

    said = await asyncio.gather(use(), use(), return_exceptions=True)
    assert [str(one) for one in said] == ["There is no pipe."] * 2
    plumber.absent = False
    await use()


async def test_two_are_never_open_at_once_whoever_comes_and_is_cancelled_when() -> None:
    plumber = Plumber()

    async def use(hold_s: float) -> None:
        async with plumber.shared.used():
            await asyncio.sleep(hold_s)

    for turn in range(60):
        users = [asyncio.create_task(use(0.0004 * (turn % number))) for number in (2, 3, 5)]
        await asyncio.sleep(0.0003 * (turn % 7))
        users[turn % 3].cancel()
        await asyncio.gather(*users, return_exceptions=True)
    await use(0)
    assert (plumber.open, plumber.most) == (0, 1)


def test_a_place_is_one_wire_and_settings_must_agree() -> None:
    wires = Wires()
    made = [wires.share("/dev/board", {"baud": 9600}, user, object) for user in ("one", "two")]
    assert made[0] is made[1]
    assert wires.share("/dev/other", {"baud": 1200}, "two", object) is not made[0]
    with pytest.raises(ConfigError, match=r'/dev/board is opened once for the sources "one" and "three".* in baud\.'):
        wires.share("/dev/board", {"baud": 1200}, "three", object)
