"""Every key does what the footer and the help page say."""

from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import OptionList
from textual.widgets._toast import Toast

from fermwatch.contracts.feed import Snapshot
from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.contracts.store import ControllerStatus
from fermwatch.dashboard.app import Dashboard
from fermwatch.dashboard.screens.dialogs import ChooseAlarms, Help
from fermwatch.dashboard.widgets.paper import Paper
from fermwatch.drawing.lines import Line, plain
from fermwatch.errors import ConfigError, StoreError
from fermwatch.model.degree import Degree, Output
from fermwatch.saying import asking
from fermwatch.saying.voice import CANONICAL, US, Units
from tests.dashboard.feeds import StillFeed, dashboard
from tests.dashboard.snapshots import NOW, healthy, hot, in_package, snapshot, stalled, with_alarms

SIZE = (80, 24)
GUARD = 200  # pauses of 20 ms


async def until_shown(pilot: Pilot[None], words: str) -> str:
    for _ in range(GUARD):
        shown = shown_text(pilot.app)
        if words in shown:
            return shown
        await pilot.pause(0.02)
    raise AssertionError(f"never shown: {words}\n{shown_text(pilot.app)}")


def shown_text(app: object) -> str:
    assert isinstance(app, Dashboard)
    papers = app.screen.query(Paper)
    return "\n".join(plain(line) for paper in papers for line in paper.lines)


async def until_asked(pilot: Pilot[None], asked: list[Request], count: int) -> None:
    for _ in range(GUARD):
        if len(asked) >= count:
            return
        await pilot.pause(0.02)
    raise AssertionError(f"asked {len(asked)} of {count}")


async def until_told(pilot: Pilot[None]) -> None:
    for _ in range(GUARD):
        if any(toast.region.height for toast in pilot.app.screen.query(Toast)):
            return
        await pilot.pause(0.02)
    raise AssertionError("nothing was told")


@pytest.mark.parametrize("key", ["q", "ctrl+q"])
async def test_quits(key: str) -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press(key)
    assert app.return_code == 0


async def test_down_and_up_pick_a_lane_and_stay_within() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        picked = []
        for key in ("down", "down", "down", "up"):
            await pilot.press(key)
            picked.append(app.state.page.about(app.state.known))
        assert picked == ["middle", "right", "right", "middle"]
        assert "▌ !! Middle" in shown_text(app)


async def test_a_click_picks_the_lane_under_it() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        shown = await until_shown(pilot, "Right")
        row = next(number for number, line in enumerate(shown.splitlines()) if "Old barn" in line)
        await pilot.click(Paper, offset=(10, row))
        await pilot.pause()
        assert app.state.page.about(app.state.known) == "right"


async def test_enter_opens_the_lane_and_escape_comes_back() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("down", "enter")
        assert app.state.page.NAME == "fermenter"
        shown = await until_shown(pilot, "whole ferment")
        assert "Cool it by 3 °C" in shown
        await pilot.press("w")
        shown = await until_shown(pilot, "middle-air-temperature")
        for word in ("stale 25 min", "apparent attenuation 73%", "rule temperature-high"):
            assert word in shown
        await pilot.press("escape")
        await until_shown(pilot, "Left")
        assert app.state.page.NAME == "overview"


def regulated(*names: str) -> Snapshot:
    status = ControllerStatus("", "middle", Degree.DRIVE, 19.0, None, (Output.COOL,), NOW)
    lanes = (healthy(), replace(hot(), controllers=tuple(replace(status, name=name) for name in names)))
    return snapshot(*lanes)


@pytest.mark.parametrize("way", [(), ("enter",), ("down", "enter", "w")])
async def test_one_key_lets_every_controller_be_from_every_page(way: tuple[str, ...]) -> None:
    """Whichever lane is looked at, without a question, and by a name that is heard while the request waits."""
    asked: list[Request] = []
    app = dashboard(regulated("fridge", "belt"), asked=asked)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press(*way, "o")
        await until_asked(pilot, asked, 2)
        await until_told(pilot)
        told = [note.message for note in app._notifications]
        assert told == ["Observing: nothing is written to fridge and belt any more."]
    assert [one.kind for one in asked] == [RequestKind.ARM] * 2
    assert [one.payload["degree"] for one in asked] == ["observe"] * 2
    assert [one.id.rpartition("-")[0] for one in asked] == ["OBS-fridge", "OBS-belt"]


@pytest.mark.parametrize(("may", "told"), [(True, asking.NO_CONTROLLER), (False, asking.VIEWER_ONLY)])
async def test_who_has_no_controller_or_may_not_is_told_so(may: bool, told: str) -> None:
    asked: list[Request] = []
    app = dashboard(snapshot(healthy()) if may else regulated("fridge"), asked=asked if may else None)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "Left")
        await pilot.press("o")
        await until_told(pilot)
        assert [note.message for note in app._notifications] == [told]
    assert asked == []


async def test_units_go_round() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "19.2 °C")
        for readings in (("19.2 °C", "6.2 °P"), ("66.6 °F", "1.024"), ("19.2 °C", "1.024")):
            await pilot.press("u")
            assert all(reading in shown_text(app) for reading in readings)


@pytest.mark.parametrize("typed", [False, True])
async def test_help_names_every_key(typed: bool) -> None:
    app = dashboard(typed=typed)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("question_mark")
        assert isinstance(app.screen, Help)
        await pilot.press("escape")
        assert not isinstance(app.screen, Help)


async def test_one_unseen_alarm_is_acknowledged_without_a_question() -> None:
    asked: list[Request] = []
    app = dashboard(asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("down", "a")
        await until_asked(pilot, asked, 1)
    request = asked[0]
    assert request.kind is RequestKind.ACKNOWLEDGE
    assert request.payload == {"rule": "temperature-high", "subject": "vessel:middle"}
    assert (request.site, request.user, request.expires_at) == ("home", "anna", None)


@pytest.mark.parametrize(
    ("keys", "rules"), [(["enter"], {"temperature-high", "cycling"}), (["down", "enter"], {"temperature-high"})]
)
async def test_of_several_unseen_alarms_it_asks_which(keys: list[str], rules: set[str]) -> None:
    asked: list[Request] = []
    app = dashboard(snapshot(with_alarms(hot(), "cycling")), asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("a")
        assert isinstance(app.screen, ChooseAlarms)
        assert app.screen.query_one(OptionList).option_count == 3
        await pilot.press(*keys)
        await until_asked(pilot, asked, len(rules))
    assert {request.payload["rule"] for request in asked} == rules


async def test_where_no_lane_waits_the_key_is_for_packaged_beers() -> None:
    asked: list[Request] = []
    app = dashboard(replace(snapshot(healthy()), in_package=(in_package("Brew", 3.0, asks=True),)), asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Brew")
        await pilot.press("a")
        await until_asked(pilot, asked, 1)
    assert asked[0].payload == {"rule": "squeeze-the-bottle", "subject": "batch:brew"}


async def test_enter_below_the_last_lane_opens_the_packaged_beers_and_escape_comes_back_to_them() -> None:
    beers = (in_package("Stout", 20.0), in_package("Brew", 3.0, asks=True))
    asked: list[Request] = []
    app = dashboard(replace(snapshot(), in_package=beers), asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Brew")
        await pilot.press("down", "down", "down", "down")  # three lanes, and no further than the beers
        await until_shown(pilot, "▌ bottle  i Brew")
        await pilot.press("enter")
        shown = await until_shown(pilot, "Brew: squeeze the PET bottle")
        assert "day 20 in the bottle" in shown
        assert shown.index("Brew") < shown.index("Stout"), "who needs somebody stands first"
        await pilot.press("a")
        await until_asked(pilot, asked, 1)
        await pilot.press("escape")
        await until_shown(pilot, "▌ bottle  i Brew")
        await pilot.press("up")
        await until_shown(pilot, "▌ ! Right")
    assert asked[0].payload == {"rule": "squeeze-the-bottle", "subject": "batch:brew"}


async def test_packaged_beers_that_are_gone_leave_the_cursor_on_a_lane() -> None:
    feed = StillFeed(replace(snapshot(healthy()), in_package=(in_package("Brew", 3.0),)))
    app = dashboard(feed=feed)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Brew")
        await pilot.press("down")
        await until_shown(pilot, "▌ bottle")
        assert app.state.page.about(app.state.known) == "packaged beers"
        known = replace(app.state.known, snapshot=snapshot(healthy()))
        assert app.state.page.about(known) == "left"


async def test_the_key_reaches_an_alarm_of_the_site_from_any_lane() -> None:
    asked: list[Request] = []
    shown = snapshot(healthy())
    (lost,) = with_alarms(replace(healthy(), alarms=()), "source-lost").alarms
    lost = replace(lost, subject="source:board")
    app = dashboard(replace(shown, alarms=(*shown.alarms, lost)), asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "source-lost is so")
        await pilot.press("a")
        await until_asked(pilot, asked, 1)
    assert asked[0].payload == {"rule": "source-lost", "subject": "source:board"}


async def test_nothing_is_asked_where_no_alarm_waits() -> None:
    asked: list[Request] = []
    app = dashboard(snapshot(healthy()), asked=asked)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "all well")
        await pilot.press("a")
        await pilot.pause()
        assert [note.message for note in app._notifications] == ["No alarm here waits to be seen."]
    assert asked == []


async def test_a_viewer_is_told_why_nothing_happens() -> None:
    app = dashboard(snapshot(hot()))
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("a")
        await pilot.pause()
        assert [note.message for note in app._notifications] == [asking.VIEWER_ONLY]


async def test_an_inbox_that_refuses_is_told_with_its_remedy() -> None:
    def refuse(request: Request) -> None:
        raise StoreError("The inbox cannot be written.", hint="Join the group fermwatch.")

    app = dashboard(snapshot(stalled()), ask=refuse)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "Right")
        await pilot.press("a")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert [note.message for note in app._notifications] == [
            "The inbox cannot be written. Join the group fermwatch."
        ]


async def test_what_the_units_key_turns_to_is_remembered() -> None:
    kept: list[Units] = []
    app = dashboard(units=US, remember=kept.append)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "66.6 °F")
        await pilot.press("u")
        await until_shown(pilot, "19.2 °C")
        await app.workers.wait_for_complete()
        await pilot.pause()
        told = [one.message for one in app._notifications]
    assert kept == [CANONICAL]
    assert told == ["Now °C and SG, also for bare numbers that you type. Next by u: °C and °P."]


async def test_the_units_key_comes_back_to_what_was_chosen() -> None:
    """From the US it led to °C and °P and then to °F and °P, both kept."""
    kept: list[Units] = []
    app = dashboard(units=Units(fahrenheit=True, plato=True), remember=kept.append)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "66.6 °F")
        for _ in range(4):
            await pilot.press("u")
            await app.workers.wait_for_complete()
    assert kept == [US, CANONICAL, Units(plato=True), Units(fahrenheit=True, plato=True)]


async def test_what_is_told_hides_no_lane() -> None:
    app = dashboard(units=US, remember=lambda _units: None)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "66.6 °F")
        owners = app.state.page.draw(app.state.known, SIZE[0], SIZE[1] - 1).owners
        last = max(row for row, owner in enumerate(owners) if owner >= 0)
        for _ in range(2):
            await pilot.press("u")
            await pilot.pause()
            await until_told(pilot)
        toasts = app.screen.query(Toast)
        assert len(toasts) == 1, "the units before these are no news"
        assert all(toast.region.height and toast.region.y > last for toast in toasts)


async def test_units_that_cannot_be_kept_still_hold_and_say_so() -> None:
    def refuse(_units: Units) -> None:
        raise ConfigError("cannot be written: no room.", file=Path("preferences.toml"))

    app = dashboard(remember=refuse)
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "19.2 °C")
        await pilot.press("u")
        await until_shown(pilot, "6.2 °P")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert any("hold until you leave" in one.message for one in app._notifications)


async def test_a_page_that_is_covered_is_not_drawn_and_is_up_to_date_when_it_comes_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Textual has the terminal sent a whole new screen for whatever changes under the one that is shown."""
    feed = StillFeed(snapshot())
    app = dashboard(feed=feed)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "19.2 °C")
        await pilot.press("enter")
        await until_shown(pilot, "whole ferment")
        under = app.screen_stack[-2].query_one(Paper)
        drawn: list[int] = []
        show = under.show

        def noted(lines: tuple[Line, ...]) -> None:
            drawn.append(1)
            show(lines)

        monkeypatch.setattr(under, "show", noted)
        lane = feed.shown.lanes[0]
        warmer = tuple(replace(one, value=20.7) if one.value == 19.24 else one for one in lane.probes)
        feed.shown = replace(feed.shown, lanes=(replace(lane, probes=warmer), *feed.shown.lanes[1:]))
        await until_shown(pilot, "20.7 °C")
        assert not drawn
        await pilot.press("escape")
        assert "20.7 °C" in await until_shown(pilot, "Middle")
        assert drawn


async def test_a_fermenter_is_looked_at_closer_and_read_by_keys() -> None:
    app = dashboard()
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("enter")
        await until_shown(pilot, "whole ferment, 8 days")
        for keys, told in (
            (("plus", "plus"), "4 days"),
            (("left",), "Tue 3 Nov 19:"),
            (("right",), "now:"),
            (("p",), "F Active from then on."),
            (("left_square_bracket",), "P Pitched"),
            (("n",), "F Active from then on."),
            (("minus", "0"), "whole ferment"),
            (("w",), "left-air-temperature"),
            (("w",), "marks"),
        ):
            await pilot.press(*keys)
            shown = await until_shown(pilot, told)
            assert shown, keys
