"""The windows of forms: by keys and by mouse, at every size, and with whatever is typed or pasted into them."""

from collections.abc import Mapping

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Input, OptionList

from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.dashboard.app import Dashboard
from fermwatch.dashboard.screens.form import LONGEST, FormScreen, Picked
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError, StoreError
from fermwatch.model.batch import Event, EventKind
from fermwatch.requests.shapes import Happened
from fermwatch.saying.voice import Units
from tests.dashboard.expected_text import Expected
from tests.dashboard.feeds import dashboard
from tests.dashboard.ferments import lane_with_a_story
from tests.dashboard.hostile import NAMES
from tests.dashboard.snapshots import NOW, snapshot
from tests.dashboard.test_keys import SIZE, until_asked, until_shown

Said = Mapping[str, str | bool | list[str]]
EVENT = Event("01X", NOW, EventKind.NOTE, {}, "lid opened")
MIND = "That is 27 points above the probe, which says 1.023: read again, and look for foam or a stuck float."
GUARD = 200  # pauses of 20 ms


class Reads:
    """A command that takes everything but the word "wrong", and keeps what it was told."""

    def __init__(self, *, doubts: tuple[str, ...] = (), question: str = "Store it for Harbour amber?") -> None:
        self.heard: list[tuple[str, Said]] = []
        self._doubts, self._question = doubts, question

    def __call__(self, command: str, said: Said, _units: Units) -> Prepared:
        self.heard.append((command, said))
        if "wrong" in said.values():
            raise InputError("--sample: 'wrong' is not a number.", hint="Say it as 19C.")
        rows = (("batch", "Harbour amber"), ("gravity", "1.0500 ±0.0017 SG 20/20 (12.4 °P)"))
        return Prepared(
            rows, Happened("batch-left", EVENT), self._question, "Stored.", minded=self._doubts, doubts=self._doubts
        )


def screen_text(app: Dashboard) -> str:
    """As it stands on the terminal, the page behind the window with it."""
    lines = app.screen._compositor.render_strips()
    return "".join("".join(segment.text for segment in line).rstrip() + "\n" for line in lines)


def form_of(app: Dashboard) -> FormScreen:
    assert isinstance(app.screen, FormScreen), app.screen
    return app.screen


async def until(pilot: Pilot[None], words: str) -> str:
    app = pilot.app
    assert isinstance(app, Dashboard)
    for _ in range(GUARD):
        if words in (shown := screen_text(app)):
            return shown
        await pilot.pause(0.02)
    raise AssertionError(f"never shown: {words}\n{screen_text(app)}")


async def open_form(pilot: Pilot[None], *down: str) -> None:
    await until_shown(pilot, "Left")
    await pilot.press("i", *down, "enter")
    await pilot.pause()


def started(reads: Reads, asked: list[Request] | None = None, *, typed: bool = False) -> Dashboard:
    sent: list[Request] = [] if asked is None else asked
    return dashboard(snapshot(lane_with_a_story()), asked=sent, prepare=reads, typed=typed)


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40), (40, 12)])
async def test_how_it_looks(expected: Expected, columns: int, rows: int) -> None:
    app = started(Reads(doubts=(MIND,)))
    async with app.run_test(size=(columns, rows)) as pilot:
        await until_shown(pilot, "Left")
        await pilot.press("i")
        await pilot.pause()
        expected.check(f"form_choice_{columns}x{rows}", await until(pilot, "a gravity by hand"))
        await pilot.press("enter")
        await pilot.press(*"1.05")
        expected.check(f"form_fields_{columns}x{rows}", await until(pilot, "1.05 "))
        await pilot.press("enter")
        expected.check(f"form_asks_{columns}x{rows}", await until(pilot, "the same?"))


async def test_in_ascii(expected: Expected) -> None:
    app = started(Reads(), typed=True)
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot, "down")
        shown = await until(pilot, "Seen, smelt")
        window = shown[shown.index("+--") :]
        assert window.isascii()
        await pilot.press("k", "k")
        assert "< kr" in await until(pilot, "usen has fallen >")
        assert screen_text(app)[shown.index("+--") :].isascii()


async def test_a_reading_goes_into_the_inbox_once_it_is_confirmed() -> None:
    reads, asked = Reads(), list[Request]()
    app = started(reads, asked)
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot)
        await pilot.press(*"1.020", "tab", *"21C", "down", "right", "enter")
        await until(pilot, "Store it for Harbour amber?")
        assert asked == []
        await pilot.press("enter")
        await until_asked(pilot, asked, 1)
        await until_shown(pilot, "Left")
        assert not isinstance(app.screen, FormScreen)
    assert reads.heard == [
        (
            "measure",
            {"instrument": "hydrometer", "reading": "1.020", "sample": "21C", "degassed": True, "batch": "batch-left"},
        )
    ]
    assert [one.kind for one in asked] == [RequestKind.EVENT]


async def test_what_is_wrong_is_told_beside_the_fields_which_keep_what_was_typed() -> None:
    asked = list[Request]()
    app = started(Reads(), asked)
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot)
        await pilot.press(*"1.020", "tab", *"wrong", "enter")
        shown = await until(pilot, "\"sample at\": 'wrong' is not a number. Say it as 19C.")
        assert "1.020" in shown
        await pilot.resize_terminal(40, 12)
        await until(pilot, "1.020")
        await pilot.press("escape", "i", "enter")
        assert "1.020" in await until(pilot, "wrong"), "and after it was closed"
    assert asked == []


async def test_an_inbox_that_refuses_is_told_in_the_form() -> None:
    def refuse(_request: Request) -> None:
        raise StoreError("The disk is full: nothing was kept.", hint="Free some space.")

    app = dashboard(snapshot(lane_with_a_story()), ask=refuse, prepare=Reads())
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot)
        await pilot.press(*"1.020", "enter")
        await until(pilot, "Store it for")
        await pilot.press("enter")
        assert "1.020" in await until(pilot, "The disk is full: nothing was kept. Free some space.")


async def test_by_mouse() -> None:
    app = started(Reads())
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Left")
        await pilot.press("i")
        await pilot.pause()
        await pilot.click(OptionList, offset=(3, 1))
        await until(pilot, "< taste >")
        await pilot.click(Picked)
        await until(pilot, "< smell >")


async def test_of_several_lines_pasted_one_harmless_line_is_made() -> None:
    app = started(Reads())
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot, "down")
        await pilot.press("tab")
        typed = form_of(app).focused
        assert isinstance(typed, Input)
        app.post_message(events.Paste("first line\r\nsecond\x1b[31m line\n\n\tthird\x07"))
        await pilot.pause()
        assert typed.value.startswith("first line second")
        assert typed.value.isprintable()
        assert "third" in typed.value
        app.post_message(events.Paste("\n\r\n"))
        await pilot.pause()
        assert typed.value.startswith("first line second"), "of nothing comes nothing"


async def test_no_more_is_taken_than_is_kept() -> None:
    reads = Reads()
    app = started(reads)
    async with app.run_test(size=(40, 12)) as pilot:
        await open_form(pilot, "down")
        await pilot.press("tab")
        app.post_message(events.Paste("x" * 100_000))
        await pilot.pause()
        await pilot.press("enter")
        await until(pilot, "Store it for")
    (_, said), *_ = reads.heard
    assert said["text"] == ["x" * (LONGEST - 1) + "…"]


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
async def test_whatever_is_pasted_or_answered_stands_there_literally(name: str) -> None:
    app = started(Reads(doubts=(name,), question=f"Store it for {name}?"))
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot, "down")
        await pilot.press("tab")
        app.post_message(events.Paste(name))
        await pilot.pause()
        await pilot.press("enter")
        shown = await until(pilot, "the same?")
        assert all(sign.isprintable() or sign == "\n" for sign in shown)
        if name.startswith("["):
            assert f"! {name}" in shown


async def test_down_and_up_go_through_the_fields_and_letters_choose() -> None:
    app = started(Reads())
    async with app.run_test(size=SIZE) as pilot:
        await open_form(pilot, "down")
        names = []
        for key in ("down", "down", "up", "up"):
            await pilot.press(key)
            focused = app.screen.focused
            names.append(focused.name if focused is not None else "")
        assert names == ["text", "at", "text", "what"]
        await pilot.press("f")
        await until(pilot, "< forced ferment ended >")
        await until(pilot, "ended at")
        await pilot.press("left")
        await until(pilot, "butter smelt")
