"""When the store is looked through as a whole: by the hour, sooner where there is reason to, never much of the time."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest

from fermwatch.clock import ManualClock
from fermwatch.errors import StoreDamaged, StoreError
from fermwatch.watching.examiner import EVERY_S, SUSPECTED_EVERY_S, Examiner


@dataclass
class Looked:
    """A store that counts the looks, each of which takes its time."""

    clock: ManualClock = field(default_factory=ManualClock)
    looks: int = 0
    takes_s: float = 0.01
    raises: StoreError | None = None

    def check_sound(self, _given_up: Callable[[], bool]) -> None:
        self.looks += 1
        self.clock.advance(self.takes_s)
        if self.raises is not None:
            raise self.raises


@pytest.fixture
def store() -> Looked:
    return Looked()


@pytest.fixture
def examiner(store: Looked) -> Iterator[Examiner]:
    made = Examiner(store.check_sound, store.clock.monotonic_s)
    yield made
    made.close()


async def test_it_looks_at_the_start_and_then_by_the_hour(store: Looked, examiner: Examiner) -> None:
    for _ in range(3):
        await examiner.turn()
    assert store.looks == 1
    store.clock.advance(EVERY_S - 1)
    await examiner.turn()
    assert store.looks == 1
    store.clock.advance(1)
    await examiner.turn()
    assert store.looks == 2


async def test_what_is_suspected_is_looked_at_soon_and_not_again_and_again(store: Looked, examiner: Examiner) -> None:
    await examiner.turn()
    for _ in range(int(SUSPECTED_EVERY_S) * 3):
        examiner.suspect()
        await examiner.turn()
        store.clock.advance(1)
    assert store.looks == 3


@pytest.mark.parametrize(("suspected", "times"), [(False, 100), (True, 10)])
async def test_a_store_that_takes_long_is_looked_at_for_a_small_part_of_the_time(
    suspected: bool, times: int, store: Looked, examiner: Examiner
) -> None:
    store.takes_s = 60.0
    await examiner.turn()
    store.clock.advance(60.0 * times - 1.0)
    await examiner.turn(written=suspected)
    assert store.looks == 1
    store.clock.advance(1.0)
    await examiner.turn(written=suspected)
    assert store.looks == 2


async def test_damage_stays_said_until_a_look_finds_none(store: Looked, examiner: Examiner) -> None:
    store.raises = StoreDamaged("home.db is damaged.", hint="Put a backup in its place.")
    for _ in range(2):
        with pytest.raises(StoreDamaged, match="Put a backup"):
            await examiner.turn()
    store.raises = None
    store.clock.advance(SUSPECTED_EVERY_S)
    examiner.suspect()
    await examiner.turn()
    assert store.looks == 2


async def test_a_store_that_cannot_be_read_is_no_damage_and_is_not_hammered(store: Looked, examiner: Examiner) -> None:
    store.raises = StoreError("it is locked.")
    with pytest.raises(StoreError):
        await examiner.turn()
    await examiner.turn()
    assert store.looks == 1
