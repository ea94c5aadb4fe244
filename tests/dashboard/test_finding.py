"""By a few letters to any fermenter, any batch and anything that can be done."""

from dataclasses import replace

import pytest
from textual.widgets import OptionList

from fermwatch.dashboard import actions
from fermwatch.dashboard.events import GoneTo, SnapshotRead, Wish
from fermwatch.dashboard.finding import deeds, matching, places
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.registry import FIRST
from fermwatch.dashboard.screens.finder import Finder
from fermwatch.dashboard.state import State, absorb
from fermwatch.saying.voice import Units, Voice
from tests.dashboard.feeds import dashboard
from tests.dashboard.hostile import hostile_snapshot
from tests.dashboard.snapshots import in_package, many, snapshot
from tests.dashboard.test_keys import SIZE, shown_text, until_shown

CELLAR = replace(snapshot(), in_package=(in_package("Porch Porter", 3.0),))


def test_fermenters_and_packaged_beers_are_found_by_any_word_of_theirs() -> None:
    found = places(Known(snapshot=CELLAR), Voice())
    assert [one.text.split("  ")[0] for one in found][-1] == "Porch Porter"
    (stout,) = matching(found, "sto sadd")
    assert stout.event == GoneTo(actions.FERMENTER, "middle")
    assert matching(found, "no such beer") == ()
    assert matching(found, "  ") == found


def test_what_begins_with_what_was_typed_comes_first() -> None:
    found = matching(places(Known(snapshot=many(12)), Voice()), "f1")
    assert found == tuple(sorted(found, key=lambda one: not one.text.casefold().startswith("f1")))


@pytest.mark.parametrize("page", actions.EVERY_PAGE)
def test_everything_that_the_help_names_for_a_page_is_in_its_palette(page: str) -> None:
    listed = {one.text for one in deeds(page)}
    left_out = {"back", "back-from-alarms", "search", "palette"}
    wanted = {one.help for one in actions.of(page) if one.help and one.name not in left_out}
    assert listed == wanted
    assert all(one.keys for one in deeds(page))


def test_to_go_there_leaves_what_was_open_and_the_way_back_leads_to_its_lane() -> None:
    state, _ = absorb(State(), SnapshotRead(CELLAR))
    for event in (GoneTo("health", ""), GoneTo(actions.FERMENTER, "right")):
        state, _ = absorb(state, event)
    assert [page.NAME for page in state.pages] == [FIRST, actions.FERMENTER]
    state, _ = absorb(state, Wish.BACK)
    assert state.page.about(state.known) == "right"


async def test_a_few_letters_and_enter_open_the_fermenter() -> None:
    app = dashboard(CELLAR)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("slash", *"sadd", "enter")
        await pilot.pause()
        await until_shown(pilot, "Saddle stout")
        assert app.state.page.NAME == actions.FERMENTER
        assert app.state.page.about(app.state.known) == "middle"


async def test_up_and_down_choose_among_what_was_found() -> None:
    app = dashboard(CELLAR)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("slash", "down", "down", "up", "enter")
        await pilot.pause()
        assert app.state.page.about(app.state.known) == "middle"


async def test_escape_and_nothing_found_lead_nowhere() -> None:
    app = dashboard(CELLAR)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        for keys in (("slash", "escape"), ("slash", *"zzz", "enter")):
            await pilot.press(*keys)
            await pilot.pause()
            assert not isinstance(app.screen, Finder)
            assert app.state.page.NAME == FIRST


async def test_the_palette_does_what_the_key_does() -> None:
    app = dashboard(CELLAR)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("ctrl+p", *"probes", "enter")
        await until_shown(pilot, "watcher and store")
        await pilot.press("ctrl+p", *"units", "enter")
        await pilot.pause()
        assert app.state.known.units == Units(plato=True)


async def test_names_are_shown_as_they_are_and_never_as_markup() -> None:
    app = dashboard(hostile_snapshot())
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause(0.3)
        await pilot.press("slash")
        await pilot.pause()
        listed = app.screen.query_one(OptionList)
        assert listed.option_count
        assert shown_text(app) is not None
        await pilot.press("escape")
