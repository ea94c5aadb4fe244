"""One turn of a controller that may be written to: what keeps a write from being made, and what from being repeated."""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import pytest

from fermwatch.clock import ManualClock
from fermwatch.contracts.controller import (
    Abilities,
    DeadMan,
    Hearing,
    Order,
    OrderResult,
    Response,
    Seen,
    SetPoint,
    SetPointAbility,
    Switch,
)
from fermwatch.contracts.store import ControllerStatus
from fermwatch.control.degree import OBSERVING, Arming
from fermwatch.control.guard import SetPointWish
from fermwatch.errors import ProbeUnavailable, StoreError
from fermwatch.inbox.peeking import observe_identity
from fermwatch.inbox.receiving import open_inbox
from fermwatch.model.amounts import plain
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.intent import Band
from fermwatch.rules.situation import GoodReading
from fermwatch.watching.controlling import Allowed, Controlling
from fermwatch.watching.controls import ControlView
from tests.support.running import ALE
from tests.support.samples import NOW

T = TypeVar("T")
ARMED = Arming(Degree.SET, "anna", NOW)


@dataclass
class Device:
    """Takes what it is told, unless `answers` says otherwise."""

    abilities: Abilities = field(default_factory=lambda: Abilities(SetPointAbility(-5.0, 35.0, 0.1, 100_000)))
    set_point_c: float = 15.0
    gone: bool = False
    answers: OrderResult = OrderResult.TAKEN
    orders: list[Order] = field(default_factory=list)
    on: frozenset[Output] = frozenset()
    stopped_for: Callable[[], None] = lambda: None

    async def run(self, hearing: Hearing) -> None:
        raise NotImplementedError

    async def read(self) -> Seen:
        if self.gone:
            raise ProbeUnavailable("no answer")
        self.stopped_for()
        return Seen(NOW, set_point_c=self.set_point_c, on=self.on)

    async def ask(self, request: Order) -> Response:
        self.orders.append(request)
        if self.answers is OrderResult.TAKEN and isinstance(request.what, SetPoint):
            self.set_point_c = request.what.target_c
        if self.answers is OrderResult.TAKEN and isinstance(request.what, Switch):
            self.on = request.what.on
        return Response(self.answers, "not for you" if self.answers is OrderResult.REFUSED else "")


@dataclass
class Book:
    """What the store's thread says, without a store. notes: the writes that it was told of before they were made."""

    view_now: ControlView
    notes: list[float] = field(default_factory=list)
    switched: list[tuple[frozenset[Output], str]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    refuses: bool = False
    hangs: bool = False
    ages_s: tuple[float, ...] = ()
    unseen_in: str = ""
    turned_to_c: float | None = None
    statuses: list[ControllerStatus] = field(default_factory=list)

    def view(self, _now: datetime, *, controller: str, vessel: str) -> ControlView:
        assert (controller, vessel) == ("fridge", "left")
        return self.view_now

    def writes_ago_s(self, _now: datetime, *, controller: str) -> tuple[float, ...]:
        assert controller == "fridge"
        return self.ages_s

    def note_write(self, _now: datetime, *, controller: str, target_c: float, turned_to_c: float | None) -> None:
        assert controller == "fridge"
        self.turned_to_c = turned_to_c
        if self.refuses:
            raise StoreError("the disk is full")
        self.notes.append(target_c)

    def note_switch(self, _now: datetime, *, controller: str, on: frozenset[Output], why: str) -> None:
        assert controller == "fridge"
        if self.refuses:
            raise StoreError("the disk is full")
        self.switched.append((on, why))

    def tell(self, _now: datetime, *, finding: Finding, unseen_in: str = "") -> None:
        self.findings.append(finding)
        self.unseen_in = unseen_in

    def note_status(self, _now: datetime, *, status: ControllerStatus) -> None:
        self.statuses.append(status)

    def __call__(self, work: Callable[[Any, datetime], T], /) -> Awaitable[T]:
        async def do() -> T:
            if self.hangs:
                await asyncio.Event().wait()
            called: Any = work
            name = called.func.__name__
            result: T = getattr(self, name)(NOW, **called.keywords)
            return result

        return do()


@pytest.fixture
def device() -> Device:
    return Device()


@pytest.fixture
def book() -> Book:
    return Book(ControlView(NOW, SetPointWish(18.0, ALE), ARMED))


@pytest.fixture
def controlling(tmp_path: Path, device: Device, book: Book) -> Controlling:
    open_inbox(tmp_path, "home").close()
    allowed = Allowed("fridge", "left", Degree.SET, Band(1.0, 24.0), tmp_path, "home")
    return Controlling(allowed, device, book, ManualClock(NOW))


def written(device: Device) -> list[float]:
    return [order.what.target_c for order in device.orders if isinstance(order.what, SetPoint)]


async def test_what_the_plan_wants_is_written_once_and_noted_before(
    controlling: Controlling, device: Device, book: Book
) -> None:
    for _ in range(5):
        await controlling.turn()
    assert written(device) == book.notes == [18.0]
    (order,) = device.orders
    assert order.expires_at - order.asked_at <= timedelta(seconds=30), "nothing delivers it late"


async def test_nothing_is_written_while_observing_or_where_the_configuration_allows_no_more(
    controlling: Controlling, device: Device, book: Book, tmp_path: Path
) -> None:
    book.view_now = replace(book.view_now, arming=OBSERVING)
    await controlling.turn()
    only = Allowed("fridge", "left", Degree.OBSERVE, Band(1.0, 24.0), tmp_path, "home")
    await Controlling(only, device, Book(ControlView(NOW, SetPointWish(18.0, ALE), ARMED)), ManualClock(NOW)).turn()
    assert device.orders == []
    assert not book.findings[-1].holds, "what was told while it was armed is over"


async def test_who_asks_to_let_it_be_is_heard_while_the_request_still_waits(
    controlling: Controlling, device: Device, tmp_path: Path
) -> None:
    """However much lies before it in the inbox, and whoever is busy with that."""
    waiting = tmp_path / "home.inbox" / f"000009-{observe_identity('fridge', '01JD0000000000000000000000')}.json"
    waiting.write_text("{}")
    await controlling.turn()
    assert device.orders == []
    waiting.rename(waiting.with_name(waiting.name.replace("fridge", "freezer")))
    await controlling.turn()
    assert written(device) == [18.0], "another controller was meant"


async def test_what_the_journal_refuses_is_not_written(controlling: Controlling, device: Device, book: Book) -> None:
    book.refuses = True
    for _ in range(3):
        with pytest.raises(StoreError):
            await controlling.turn()
    assert device.orders == []


async def test_while_the_store_is_busy_nothing_is_written(
    controlling: Controlling, device: Device, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fermwatch.watching.controlling.VIEW_WITHIN_S", 0.05)
    book.hangs = True
    with pytest.raises(TimeoutError):
        await controlling.turn()
    assert device.orders == []


async def test_a_device_that_is_gone_is_written_nothing(controlling: Controlling, device: Device) -> None:
    device.gone = True
    with pytest.raises(ProbeUnavailable):
        await controlling.turn()
    assert device.orders == []


async def test_what_a_device_refuses_for_good_is_not_repeated_and_told(
    controlling: Controlling, device: Device, book: Book
) -> None:
    device.answers = OrderResult.REFUSED
    for _ in range(10):
        await controlling.turn()
        assert book.findings[-1].holds
        assert "It is refused: not for you" in book.findings[-1].statement
    assert len(device.orders) == 1
    assert book.findings[-1].severity is Severity.WARNING


async def test_what_is_not_answered_is_tried_three_times(controlling: Controlling, device: Device) -> None:
    device.answers = OrderResult.UNANSWERED
    for _ in range(30):
        await controlling.turn()
    assert len(device.orders) == 3


async def test_a_memory_that_wears_out_remembers_yesterday_over_a_restart(
    tmp_path: Path, device: Device, book: Book
) -> None:
    device.abilities = Abilities(SetPointAbility(-5.0, 35.0, 0.1, writes=2 * 5 * 365))
    book.ages_s = (60.0, 3600.0)
    allowed = Allowed("fridge", "left", Degree.SET, Band(1.0, 24.0), tmp_path, "home")
    await Controlling(allowed, device, book, ManualClock(NOW)).turn()
    assert device.orders == []
    assert "endures 2 writes a day" in book.findings[-1].statement


async def test_who_turns_the_knob_is_set_right_and_told_of_and_after_the_third_time_left(
    controlling: Controlling, device: Device, book: Book
) -> None:
    for turned in range(4):
        for _ in range(3):
            await controlling.turn()
        if turned:
            assert (book.turned_to_c, len(device.orders)) == (16.0, min(turned + 1, 3))
        device.set_point_c = 16.0
    for _ in range(3):
        await controlling.turn()
    assert len(device.orders) == 3
    told = plain(book.findings[-1].statement)
    assert "shows 16.0 °C, although 18.0 °C stood in it: somebody turned it, or it forgot" in told
    assert book.findings[-1].severity is Severity.WARNING


async def test_what_it_does_is_known_to_whoever_looks(controlling: Controlling, device: Device, book: Book) -> None:
    await controlling.turn()
    await controlling.turn()
    sets = ControllerStatus("fridge", "left", Degree.SET, 18.0, 18.0, (), NOW, (), "", Degree.SET, 1.0, 24.0)
    assert book.statuses[-1] == replace(sets, said_by=ARMED.by, said_at=ARMED.at)
    book.view_now = replace(book.view_now, arming=OBSERVING)
    device.on = frozenset({Output.COOL})
    await controlling.turn()
    assert book.statuses[-1] == replace(sets, degree=Degree.OBSERVE, on=(Output.COOL,))


@pytest.mark.parametrize("mistaken", [False, True])
async def test_a_turn_that_comes_to_nothing_is_shown_and_the_next_one_begins_anew(
    controlling: Controlling, device: Device, book: Book, monkeypatch: pytest.MonkeyPatch, mistaken: bool
) -> None:
    """A device that is silent has an alarm of its source; a mistake of ours needs one of its own."""
    monkeypatch.setattr("fermwatch.watching.controlling.EVERY_S", 0.001)
    device.gone = True
    if mistaken:
        device.stopped_for, device.gone = mistake, False
    running = asyncio.create_task(controlling.run())
    await becomes(lambda: bool(book.statuses and book.statuses[-1].trouble and (book.findings or not mistaken)))
    told = "by a mistake of fermwatch" if mistaken else "no answer"
    assert told in book.statuses[-1].trouble
    assert all(one.holds for one in book.findings)
    device.gone, device.stopped_for = False, lambda: None
    await becomes(lambda: not book.statuses[-1].trouble and bool(device.orders))
    running.cancel()


def mistake() -> None:
    raise ZeroDivisionError


async def becomes(true: Callable[[], bool]) -> None:
    for _ in range(10_000):
        if true():
            return
        await asyncio.sleep(0.001)
    raise AssertionError("it never came to that")


async def test_after_a_sleep_nothing_is_driven_by_what_was_heard_before(tmp_path: Path) -> None:
    """However the clocks went on meanwhile: what is remembered moves along with one that was set."""
    device = Device(Abilities(None, frozenset({Output.HEAT}), DeadMan(120.0, told=True)))
    clock = ManualClock(NOW)
    cold = GoodReading(NOW, 15.0)
    book = Book(ControlView(NOW, SetPointWish(18.0, ALE), Arming(Degree.DRIVE, "anna", NOW), cold))
    open_inbox(tmp_path, "home").close()
    allowed = Allowed("fridge", "left", Degree.DRIVE, Band(1.0, 24.0), tmp_path, "home")
    controlling = Controlling(allowed, device, book, clock)
    await heard_anew(controlling, book, clock)
    assert [order.what.on for order in device.orders if isinstance(order.what, Switch)] == [{Output.HEAT}]
    device.orders.clear()
    device.on = frozenset()
    clock.advance(600.0)
    for late_s in (-2.0, 0.0, 0.0):  # what lay in a buffer is heard as of now
        heard = clock.now() + timedelta(seconds=late_s)
        book.view_now = replace(book.view_now, at=clock.now(), beer=GoodReading(heard, 15.0))
        await controlling.turn()
        assert device.orders == []
        clock.advance(2.0)
    await heard_anew(controlling, book, clock)
    assert len(device.orders) == 1, "what is heard now is believed"


async def heard_anew(controlling: Controlling, book: "Book", clock: ManualClock) -> None:
    """Two turns, between which the beer is heard again."""
    for _ in range(2):
        beer = None if book.view_now.beer is None else GoodReading(clock.now(), book.view_now.beer.value)
        book.view_now = replace(book.view_now, at=clock.now(), beer=beer)
        await controlling.turn()
        clock.advance(5.0)


async def test_what_was_seen_before_a_stop_is_not_ordered_after_it(tmp_path: Path) -> None:
    """Stopped between a look and its order, it went on to switch on what was cold twenty seconds ago."""
    device = Device(Abilities(None, frozenset({Output.HEAT}), DeadMan(120.0, told=True)))
    clock = ManualClock(NOW)
    book = Book(ControlView(NOW, SetPointWish(18.0, ALE), Arming(Degree.DRIVE, "anna", NOW), GoodReading(NOW, 15.0)))
    open_inbox(tmp_path, "home").close()
    allowed = Allowed("fridge", "left", Degree.DRIVE, Band(1.0, 24.0), tmp_path, "home")
    controlling = Controlling(allowed, device, book, clock)
    await heard_anew(controlling, book, clock)
    assert device.orders
    device.orders.clear()
    device.on, device.stopped_for = frozenset(), lambda: clock.advance(20.0)
    book.view_now = replace(book.view_now, at=clock.now(), beer=GoodReading(clock.now(), 15.0))
    await controlling.turn()
    assert [order.expired(clock.now()) for order in device.orders] == [True]


async def test_what_goes_off_goes_off_though_the_journal_refuses_it(tmp_path: Path) -> None:
    """And nothing goes on without its line."""
    device = Device(Abilities(None, frozenset({Output.HEAT}), DeadMan(120.0, told=True)))
    book = Book(ControlView(NOW, SetPointWish(18.0, ALE), Arming(Degree.DRIVE, "anna", NOW), GoodReading(NOW, 15.0)))
    open_inbox(tmp_path, "home").close()
    allowed = Allowed("fridge", "left", Degree.DRIVE, Band(1.0, 24.0), tmp_path, "home")
    clock = ManualClock(NOW)
    controlling = Controlling(allowed, device, book, clock)
    book.refuses = True
    with pytest.raises(StoreError):
        await heard_anew(controlling, book, clock)
    assert device.on == frozenset()
    book.refuses = False
    await heard_anew(controlling, book, clock)
    assert device.on == {Output.HEAT}
    book.refuses, book.view_now = True, replace(book.view_now, beer=None)
    with pytest.raises(StoreError):
        await controlling.turn()
    assert device.on == frozenset(), "the beer is not seen any more"
    book.refuses = False
    await controlling.turn()
    assert book.unseen_in == "left", "whose alarm that is, is asked"
