"""The keys of the page of the alarms, and the window that asks how long one is to be quiet."""

from datetime import datetime, timedelta

import pytest
from textual.containers import VerticalScroll
from textual.widgets import OptionList, Static

from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.dashboard.screens.dialogs import Quieten
from fermwatch.desk import quietening
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.requests.shapes import Service, Shelving, Unshelving
from fermwatch.saying.voice import Voice, zone_of
from tests.dashboard.feeds import dashboard
from tests.dashboard.snapshots import NOW, hot, many, snapshot, stalled
from tests.dashboard.test_keys import SIZE, until_asked, until_shown

OSLO = Voice(zone=zone_of("Europe/Oslo"))
HOUR = timedelta(hours=1)


async def test_the_cursor_goes_down_and_its_alarm_can_be_kept_quiet_for_a_chosen_time() -> None:
    asked: list[Request] = []
    app = dashboard(snapshot(hot(), stalled()), asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("l")
        await until_shown(pilot, "Needs you")
        await pilot.press("down", "s")
        await pilot.pause()
        assert isinstance(app.screen, Quieten)
        said = str(app.screen.query_one(Static).render())
        assert "stalled" in said
        assert "Nobody is called meanwhile" in said
        await pilot.press("down", "enter")
        await until_asked(pilot, asked, 1)
    (one,) = asked
    assert one.kind is RequestKind.SHELVE
    assert one.payload["rule"] == "stalled"
    until = datetime.fromisoformat(str(one.payload["until"]))
    assert until == NOW + 4 * HOUR


async def test_what_is_only_looked_at_keeps_nothing_quiet() -> None:
    app = dashboard(snapshot(hot()))
    async with app.run_test(size=SIZE, notifications=True) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("l")
        await until_shown(pilot, "Needs you")
        await pilot.press("s")
        await pilot.pause()
        assert not isinstance(app.screen, Quieten)


async def test_escape_leaves_the_window_and_asks_for_nothing() -> None:
    asked: list[Request] = []
    app = dashboard(snapshot(hot()), asked=asked)
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "Middle")
        await pilot.press("l", "s")
        await pilot.pause()
        assert app.screen.query(OptionList)
        await pilot.press("escape")
        await pilot.pause()
        assert app.state.page.NAME == "alarms"
    assert not asked


async def test_on_the_smallest_screen_the_page_follows_its_cursor_and_is_turned_by_pages() -> None:
    app = dashboard(many(9))
    async with app.run_test(size=(40, 12)) as pilot:
        await until_shown(pilot, "Fermenter")
        await pilot.press("l")
        await until_shown(pilot, "Needs you")
        await pilot.press(*["down"] * 5)
        await pilot.pause(0.2)
        scroll = app.screen.query_one(VerticalScroll)
        page = app.state.page
        drawn = page.draw(app.state.known, 39, 12)
        rows = [row for row, owner in enumerate(drawn.owners) if owner == drawn.picked]
        assert scroll.scroll_y <= rows[0] < scroll.scroll_y + scroll.size.height
        before = scroll.scroll_y
        await pilot.press("pageup")
        await pilot.pause(0.2)
        assert scroll.scroll_y < before


@pytest.mark.parametrize(
    ("kept", "first"),
    [
        ({}, None),
        ({"shelved_until": NOW + HOUR, "shelved_by": "anna"}, Unshelving("stalled", "vessel:right")),
        ({"out_of_service": True}, Service("stalled", "vessel:right", out=False)),
    ],
)
def test_what_is_kept_quiet_may_first_of_all_speak_again(kept: dict[str, object], first: object) -> None:
    alarm = Alarm("stalled", "vessel:right", Condition.RAISED, **kept)  # type: ignore[arg-type]
    choices = quietening.choices(alarm, NOW, OSLO)
    assert (choices[0].asked == first) is (first is not None)
    shelved = [one.asked for one in choices if isinstance(one.asked, Shelving)]
    assert [one.until for one in shelved] == sorted(one.until for one in shelved)
    assert all(NOW < one.until <= NOW + 24 * HOUR for one in shelved)
    assert any(OSLO.local(one.until).hour == 7 for one in shelved)
    assert any("out of service" in one.text for one in choices)


def test_a_critical_alarm_says_that_it_is() -> None:
    alarm = Alarm("temperature-high", "vessel:left", Condition.RAISED, Severity.CRITICAL)
    assert "though it is critical now" in quietening.means(alarm, OSLO)
