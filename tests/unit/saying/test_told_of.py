"""Who was told of an alarm, as it is said: of this time alone, and never a silence that looks like it."""

from dataclasses import replace
from datetime import timedelta

from fermwatch.model.finding import Alarm, Condition
from fermwatch.model.telling import Told, Why
from fermwatch.saying.told_of import words_of
from fermwatch.saying.voice import Voice
from tests.dashboard.hostile import worst
from tests.dashboard.snapshots import NOW, hot

(HOT,) = hot().alarms
PHONE = Told("phone", HOT.rule, HOT.subject, 1, HOT.severity, Why.BEGAN, NOW - timedelta(minutes=13))


def said(alarm: Alarm, *told: Told, notifiers: tuple[str, ...] = ("phone",)) -> str:
    return words_of(alarm, told, notifiers, NOW, Voice())


def test_by_whom_and_when_the_first_first() -> None:
    desk = replace(PHONE, notifier="desk", at=NOW - timedelta(minutes=3), times=3, why=Why.AGAIN)
    assert said(HOT, desk, PHONE) == "told: phone today 20:01, desk today 20:11 (3 times)"


def test_what_was_told_another_time_or_of_another_is_not_told_of_this() -> None:
    before, other = replace(PHONE, occurrence=0), replace(PHONE, subject="vessel:left")
    assert said(HOT, before, other) == "told nobody yet"


def test_what_calls_nobody_or_where_nobody_can_be_told_says_nothing() -> None:
    assert said(HOT, notifiers=()) == ""
    assert said(replace(HOT, acknowledged_at=NOW)) == ""
    assert said(replace(HOT, out_of_service=True)) == ""


def test_that_it_is_over_was_told_too() -> None:
    over = replace(HOT, condition=Condition.NORMAL, cleared_at=NOW)
    assert said(over, replace(PHONE, why=Why.OVER)) == "told: phone that it is over today 20:01"


def test_a_name_takes_over_no_terminal() -> None:
    shown = said(HOT, replace(PHONE, notifier=worst()))
    assert "\x1b" not in shown
    assert len(shown) < 120
