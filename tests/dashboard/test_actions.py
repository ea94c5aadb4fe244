"""One table says what a person can do: every key in it works where it says, and footer and help are made from it."""

from dataclasses import replace

import pytest
from textual.pilot import Pilot
from textual.widgets import OptionList, Static
from textual.widgets._footer import FooterKey

from fermwatch.dashboard import actions
from fermwatch.dashboard.actions import ACTIONS, CHOICE, FINDER, FORM, HELP, OPENED, Action
from fermwatch.dashboard.app import Dashboard
from fermwatch.dashboard.pages.alarms import Alarms
from fermwatch.dashboard.pages.batch import BatchPage
from fermwatch.dashboard.pages.batches import Batches, Beside
from fermwatch.dashboard.pages.bottling import Bottling
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.dashboard.pages.instruments import Instruments
from fermwatch.dashboard.pages.packages import Packages
from fermwatch.dashboard.pages.registry import FIRST, PAGES
from fermwatch.dashboard.pages.regulating import Regulating
from fermwatch.dashboard.screens.dialogs import ChooseAlarms, Help
from fermwatch.dashboard.screens.finder import Finder
from fermwatch.dashboard.screens.form import FormScreen
from fermwatch.dashboard.screens.page import PageScreen
from tests.dashboard.feeds import dashboard
from tests.dashboard.snapshots import hot, in_package, snapshot, with_alarms
from tests.dashboard.test_keys import SIZE, until_shown

OPENING = {
    Fermenter.NAME: ("enter",),
    Regulating.NAME: ("c",),
    Instruments.NAME: ("g",),
    Packages.NAME: ("down", "enter"),
    BatchPage.NAME: ("e",),
    Batches.NAME: ("e", "v"),
    Beside.NAME: ("e", "v", "v", "n", "v"),
    Alarms.NAME: ("l",),
    Bottling.NAME: ("b",),
}  # of one lane, and a packaged beer below it
WAY_TO = {FIRST: (), HELP: ("question_mark",), CHOICE: ("a",), FINDER: ("slash",), FORM: ("i", "enter"), **OPENING}
EVERY_KEY = [(action, place, key) for action in ACTIONS for place in action.where for key in action.keys]


@pytest.mark.parametrize(
    ("action", "place", "key"), EVERY_KEY, ids=[f"{place}-{action.name}-{key}" for action, place, key in EVERY_KEY]
)
async def test_every_key_does_what_the_table_says(
    action: Action, place: str, key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = replace(snapshot(with_alarms(hot(), "cycling")), in_package=(in_package("Brew", 3.0),))
    app = dashboard(shown, asked=[])
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        for step in WAY_TO[place]:
            await pilot.press(step)
            await pilot.pause()
        assert _place(app) == place
        done: list[str] = []

        def note(name: str) -> None:
            done.append(name)

        monkeypatch.setattr(app, "action_act", note)
        await pilot.press(key)
        await pilot.pause()
        ended = app.return_code == 0  # ctrl+q leaves whatever is shown
        assert done == [action.name] or (key == "ctrl+q" and ended)


def _place(app: Dashboard) -> str:
    return {Help: HELP, ChooseAlarms: CHOICE, FormScreen: FORM, Finder: FINDER}.get(
        type(app.screen), app.state.page.NAME
    )


def test_every_page_can_be_opened_and_left() -> None:
    for page in PAGES:
        assert page in WAY_TO, f"say in WAY_TO which keys lead to {page}"
        assert (page == FIRST) != ("escape" in {key for action in actions.of(page) for key in action.keys})
    assert set(OPENED) == set(PAGES) - {FIRST}


async def test_no_key_means_two_things_in_one_place() -> None:
    for place in WAY_TO:
        keys = [key for action in actions.of(place) for key in action.keys]
        assert len(keys) == len(set(keys)), place


async def _footer(pilot: Pilot[None]) -> list[str]:
    """Of the page, also where a window is open over it."""
    await pilot.pause()
    page = next(screen for screen in reversed(pilot.app.screen_stack) if isinstance(screen, PageScreen))
    return [f"{key.key_display} {key.description}" for key in page.query(FooterKey)]


async def test_the_footer_of_each_page_is_made_from_the_table() -> None:
    app = dashboard()
    rest = ["e batch", "i write", "b bottle", "a seen", "o observe"]
    chart = ["w why?", "i write", "b bottle", "c control", "a seen", "o observe"]
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        assert await _footer(pilot) == ["q quit", "? help", "enter open", *rest]
        await pilot.press("question_mark")
        assert await _footer(pilot) == ["q quit", "? help", "enter open", *rest]
        await pilot.press("escape", "enter")
        await until_shown(pilot, "whole ferment")
        assert await _footer(pilot) == ["esc back", "? help", *chart]
        await pilot.press("escape")
        await until_shown(pilot, "Middle")
        assert await _footer(pilot) == ["q quit", "? help", "enter open", *rest]


@pytest.mark.parametrize("opened", [(), ("enter",)], ids=["overview", "fermenter"])
async def test_on_the_smallest_screen_the_footer_still_leads_to_help(opened: tuple[str, ...]) -> None:
    app = dashboard()
    async with app.run_test(size=(40, 12)) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press(*opened)
        await pilot.pause()
        (key,) = [one for one in app.screen.query(FooterKey) if one.description == "help"]
        assert key.region.right <= app.size.width


@pytest.mark.parametrize("opened", [(), ("enter",)], ids=["overview", "fermenter"])
async def test_on_eighty_columns_no_key_is_cut(opened: tuple[str, ...]) -> None:
    app = dashboard()
    async with app.run_test(size=(80, 24)) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press(*opened)
        await pilot.pause()
        keys = list(app.screen.query(FooterKey))
        assert keys
        assert [one.description for one in keys if one.region.right > 80] == []


async def test_without_colour_the_chosen_alarm_is_still_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = dashboard(snapshot(with_alarms(hot(), "cycling")), asked=[])
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("a", "down")
        await pilot.pause()
        choice = app.screen.query_one(OptionList)
        underlined = [any(one.style and one.style.underline for one in choice.render_line(y)) for y in range(2)]
        assert underlined == [False, True]


async def test_the_help_page_tells_of_everything_that_can_be_done_on_a_page() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("question_mark")
        lines = str(app.screen.query_one(Static).render()).splitlines()
        told = " ".join(" ".join(lines).split())
        for action in actions.of(actions.OVERVIEW):
            assert f"{', '.join(action.key_words[: actions.KEYS_IN_HELP])} {action.help}" in told, action
        assert all(line[:1] != " " or line.startswith(" " * 11) for line in lines), "what goes on hangs under itself"
        assert sum(not line.startswith(" ") for line in lines) <= 28


@pytest.mark.parametrize("page", actions.EVERY_PAGE)
def test_help_tells_every_key_of_a_page_once_and_its_own_before_those_of_all(page: str) -> None:
    here, anywhere = actions.help_rows(page)
    assert len(here) + len(anywhere) == len(actions.of(page))
    keys = [first for rows in (here, anywhere) for words, _ in rows for first in words.split(", ")]
    assert len(keys) == len(set(keys))
    assert any("let every controller be" in meaning for _, meaning in anywhere)
