"""The page of one batch, by keys: from a lane, from its chart, and from the packaged beers."""

from dataclasses import replace

from textual.containers import VerticalScroll

from tests.dashboard.feeds import dashboard
from tests.dashboard.ferments import lane_with_a_story
from tests.dashboard.snapshots import hot, in_package, snapshot
from tests.dashboard.test_keys import SIZE, until_shown


async def test_from_a_lane_and_from_its_chart_and_back() -> None:
    app = dashboard(snapshot(lane_with_a_story(), hot()))
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("down", "e")
        await until_shown(pilot, "Saddle stout  middle")
        await pilot.press("escape", "enter", "e")
        await until_shown(pilot, "Saddle stout  middle")
        await pilot.press("escape")
        await until_shown(pilot, "whole ferment")
        await pilot.press("escape")
        await until_shown(pilot, "▌ !! Middle")


async def test_on_the_smallest_screen_the_picked_entry_is_brought_into_view() -> None:
    app = dashboard(snapshot(lane_with_a_story()))
    async with app.run_test(size=(40, 12)) as pilot:
        await until_shown(pilot, "Left")
        await pilot.press("e")
        await until_shown(pilot, "Harbour amber")
        scroll = app.screen.query_one(VerticalScroll)
        assert scroll.scroll_y == 0
        await pilot.press("n", "n", "n", "n", "n")
        await pilot.pause()
        row = next(y for y, line in enumerate((await until_shown(pilot, "▌")).splitlines()) if line.startswith("▌"))
        assert scroll.scroll_y <= row < scroll.scroll_y + scroll.size.height


async def test_the_packaged_beers_lead_to_the_one_that_is_picked() -> None:
    beers = (in_package("Stout", 20.0), in_package("Brew", 3.0))
    app = dashboard(replace(snapshot(hot()), in_package=beers))
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Brew")
        await pilot.press("down", "enter")
        await until_shown(pilot, "▌ Stout")
        await pilot.press("n")
        await until_shown(pilot, "▌ Brew")
        await pilot.press("e")
        await until_shown(pilot, "Brew  in its package")
        await pilot.press("escape", "escape")
        await until_shown(pilot, "▌ bottle")
        assert app.state.page.about(app.state.known) == "packaged beers"
