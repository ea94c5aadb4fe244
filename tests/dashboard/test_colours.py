"""In which colours it is shown: by a person's choice, else as suits the terminal."""

from collections.abc import Mapping

import pytest

from fermwatch.dashboard.colours import Colours
from fermwatch.dashboard.terminal import has_few_colours
from tests.dashboard.feeds import dashboard
from tests.dashboard.test_keys import SIZE, until_shown


async def test_colours_turn_between_dark_light_and_the_terminals_own_and_are_kept() -> None:
    kept: list[Colours] = []
    app = dashboard(remember_look=kept.append)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        themes = [app.theme]
        for _ in range(3):
            await pilot.press("t")
            themes.append(app.theme)
            await app.workers.wait_for_complete()
        assert themes == ["fermwatch-dark", "fermwatch-light", "fermwatch-terminal", "fermwatch-dark"]
        assert kept == [Colours.LIGHT, Colours.TERMINAL, Colours.DARK]


@pytest.mark.parametrize(
    ("environment", "few"),
    [
        ({"TERM": "linux"}, True),
        ({"TERM": "vt100"}, True),
        ({"TERM": "screen"}, True),
        ({"TERM": "xterm"}, True),
        ({"TERM": "xterm-256color"}, False),
        ({"TERM": "screen-256color"}, False),
        ({"TERM": "tmux-256color"}, False),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, False),
    ],
)
def test_a_terminal_of_sixteen_colours_keeps_its_own(environment: Mapping[str, str], few: bool) -> None:
    assert has_few_colours(environment) is few


async def test_the_terminals_own_colours_are_sent_by_their_numbers() -> None:
    """Nothing that was mixed: what a person made of the sixteen holds, as does what stands behind."""
    app = dashboard(look=Colours.TERMINAL)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        styles = {segment.style for line in app.screen._compositor.render_strips() for segment in line}
        colours = {one for style in styles if style is not None for one in (style.color, style.bgcolor) if one}
        assert colours
        assert {one.triplet for one in colours} == {None}


async def test_a_terminal_of_letters_is_sent_letters_alone_also_beside_a_page_that_scrolls() -> None:
    app = dashboard(typed=True)
    async with app.run_test(size=(60, 10)) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("g")
        await until_shown(pilot, "watcher and store")
        await pilot.pause()
        rows = app.screen._compositor.render_strips()
        assert any("watcher and store" in strip.text for strip in rows)
        assert all(strip.text.isascii() for strip in rows)
