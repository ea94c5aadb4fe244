"""The store may be absent, broken, old or silent: the screen says so, names the remedy and goes on by itself."""

import asyncio
from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.clock import ManualClock
from fermwatch.contracts.feed import Feed
from fermwatch.dashboard import channel
from fermwatch.dashboard.app import Dashboard
from fermwatch.errors import StoreError
from tests.dashboard.feeds import StillFeed, dashboard
from tests.dashboard.snapshots import NOW, snapshot
from tests.dashboard.test_keys import SIZE, until_shown


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(channel, "POLL_S", 0.02)
    monkeypatch.setattr(channel, "RETRY_S", 0.02)


async def test_no_store_yet_is_an_empty_page_with_its_next_step_and_is_tried_again() -> None:
    tries: list[int] = []

    def open_feed() -> Feed:
        tries.append(1)
        if len(tries) < 5:
            raise StoreError("There is no store here yet.", hint="Start `fermwatch watch`.")
        return StillFeed(snapshot())

    app = Dashboard(open_feed, None, "anna", ManualClock(NOW), site="home")
    async with app.run_test(size=SIZE) as pilot:
        shown = await until_shown(pilot, "There is no store here yet.")
        assert "Start `fermwatch watch`." in shown
        await until_shown(pilot, "Middle")


async def test_a_store_that_breaks_keeps_the_last_picture_and_says_why_nothing_is_newer() -> None:
    feed = StillFeed(snapshot())

    def changed() -> bool:
        if feed.shown.site == "broken":
            raise StoreError("The store cannot be read.", hint="Look at the disk.")
        return True

    feed.changed = changed  # type: ignore[method-assign]
    app = Dashboard(lambda: feed, None, "anna", ManualClock(NOW), site="home")
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        feed.shown = replace(feed.shown, site="broken")
        shown = await until_shown(pilot, "!! The store cannot be read. Look at the disk.")
        assert "Middle" in shown
        feed.shown = replace(feed.shown, site="home")
        for _ in range(200):
            if "cannot be read" not in await until_shown(pilot, "Middle"):
                break
            await pilot.pause(0.02)
        else:
            raise AssertionError("the trouble is still shown")


async def test_a_defect_in_reading_is_seen_on_the_screen() -> None:
    def open_feed() -> Feed:
        raise RuntimeError("unforeseen [/]")

    app = Dashboard(open_feed, None, "anna", ManualClock(NOW), site="home")
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "RuntimeError: unforeseen [/]")


async def test_the_feed_is_closed_when_the_dashboard_ends() -> None:
    feed = StillFeed(snapshot())
    app = Dashboard(lambda: feed, None, "anna", ManualClock(NOW), site="home")
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
    for _ in range(200):
        if feed.closed:
            return
        await asyncio.sleep(0.02)
    raise AssertionError("the feed is still open")


async def test_a_watcher_that_falls_silent_is_told_within_seconds() -> None:
    shown = snapshot()
    app = dashboard(replace(shown, wall_now=NOW + timedelta(hours=2), lease_held=False))
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "nobody is watching since today 21:14: start `fermwatch watch`")


async def test_any_number_of_resizes_raises_nothing() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        for number in range(60):
            await pilot.resize_terminal(20 + number * 7 % 190, 3 + number * 5 % 60)
        await pilot.resize_terminal(80, 24)
        await until_shown(pilot, "!! Middle")
