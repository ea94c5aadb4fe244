"""Whoever presses the key for alarms learns what came of it: done, refused and why, or that nobody got to it yet."""

import asyncio
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import TypeVar

import pytest
from textual.pilot import Pilot

from fermwatch.access import user_name
from fermwatch.clock import ManualClock
from fermwatch.contracts.inbox import OutcomeState, Request
from fermwatch.contracts.store import WatcherStatus
from fermwatch.dashboard import app as app_module
from fermwatch.dashboard import channel
from fermwatch.dashboard.app import Dashboard
from fermwatch.feed import open_feed
from fermwatch.inbox.receiving import open_inbox
from fermwatch.inbox.sending import put
from fermwatch.model.finding import Alarm, Condition
from fermwatch.saying import asking
from fermwatch.watching.logbook import Logbook
from tests.dashboard.feeds import StillFeed, dashboard
from tests.dashboard.snapshots import healthy, hot, snapshot
from tests.dashboard.test_keys import GUARD, SIZE, until_shown
from tests.support.samples import NOW, PROBES, VESSELS
from tests.support.stores import open_writer, store_in

T = TypeVar("T")


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(channel, "POLL_S", 0.02)
    monkeypatch.setattr(channel, "POLL_QUICK_S", 0.02)
    monkeypatch.setattr(app_module, "WAIT_S", 0.1)


async def told(pilot: Pilot[None], count: int = 1) -> list[tuple[str, str]]:
    for _ in range(GUARD):
        notes: list[tuple[str, str]] = [(note.message, note.severity) for note in pilot.app._notifications]
        if len(notes) >= count:
            return notes
        await pilot.pause(0.02)
    raise AssertionError("nothing was told")


async def pressed(feed: StillFeed) -> list[tuple[str, str]]:
    app = dashboard(feed=feed, asked=[])
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("a")
        return await told(pilot)


async def test_done_is_told() -> None:
    assert await pressed(StillFeed(snapshot(hot()))) == [(asking.SEEN, "information")]


async def test_a_refusal_is_told_with_its_reason() -> None:
    feed = StillFeed(snapshot(hot()))
    feed.outcome = (OutcomeState.REFUSED, "There is no alarm temperature-high of vessel:middle.")
    assert await pressed(feed) == [("There is no alarm temperature-high of vessel:middle.", "error")]


@pytest.mark.parametrize("watched", [True, False])
async def test_that_nobody_got_to_it_yet_is_told(watched: bool) -> None:
    feed = StillFeed(snapshot(hot()))
    feed.outcome, feed.watched = None, watched
    assert await pressed(feed) == [(asking.kept(watched=watched), "information")]


class Site:
    """A store with one alarm and a watcher's logbook, in a thread of their own, as the watcher has."""

    def __init__(self, directory: Path) -> None:
        self.directory = directory
        self._thread = ThreadPoolExecutor(1)

    def at_once(self, work: Callable[[], T]) -> T:
        return self._thread.submit(work).result()

    async def later(self, work: Callable[[], T]) -> T:
        return await asyncio.wrap_future(self._thread.submit(work))

    def open(self) -> None:
        self._writer = open_writer(self.directory, "home", NOW, ballast_bytes=4096)
        self._writer.declare("UTC", VESSELS, PROBES, NOW)
        self._writer.beat(WatcherStatus("1", 1, NOW, NOW, NOW, last_commit_at=NOW))
        self.keep(Condition.RAISED)
        self._inbox = open_inbox(self.directory, "home")
        self._book = Logbook(self._writer, self._inbox)

    def keep(self, condition: Condition) -> None:
        alarm = Alarm("temperature-high", "vessel:left", condition, raised_at=NOW, occurrence=1, statement="too warm")
        self._writer.save_alarms([alarm], [])

    def forget(self) -> None:
        self._writer.forget_alarms([("temperature-high", "vessel:left")])

    def attend(self) -> None:
        self._book.attend(NOW)

    def close(self) -> None:
        self._inbox.close()
        self._writer.close()
        self._thread.shutdown(wait=False)


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    opened = Site(tmp_path)
    opened.at_once(opened.open)
    yield opened
    opened.at_once(opened.close)


@pytest.mark.parametrize(
    ("meanwhile", "words"),
    [("attend", asking.SEEN), ("forget", "There is no alarm temperature-high of vessel:left.")],
)
async def test_over_a_real_store_and_inbox(site: Site, meanwhile: str, words: str) -> None:
    asked: list[Request] = []

    def ask(request: Request) -> None:
        put(site.directory, request)
        asked.append(request)

    user = user_name(os.geteuid())  # whom the request will belong to
    app = Dashboard(partial(open_feed, store_in(site.directory)), ask, user, ManualClock(NOW), site="home")
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "too warm")
        await pilot.press("a")
        notes = await told(pilot)
        assert notes == [(asking.kept(watched=True), "information")]
        assert asked
        await site.later(getattr(site, meanwhile))
        await site.later(site.attend)
        assert (await told(pilot, 2))[-1][0] == words


async def test_nothing_is_awaited_where_nothing_was_asked() -> None:
    feed = StillFeed(snapshot(healthy()))
    assert await pressed_well(feed) == [(asking.NONE_WAITS, "information")]
    assert feed.queries == []


async def pressed_well(feed: StillFeed) -> list[tuple[str, str]]:
    app = dashboard(feed=feed, asked=[])
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "all well")
        await pilot.press("a")
        return await told(pilot)
