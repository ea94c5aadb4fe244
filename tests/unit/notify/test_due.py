"""What is due to be told, when: a table of days and nights, and a property over whole histories."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.alarms.life import step
from fermwatch.model.finding import NO_MORE, Alarm, Condition, Finding, Severity, Timing
from fermwatch.model.telling import NotifierStatus, Speaks, Told, Why
from fermwatch.notify.due import Due, Key, Matter, due
from fermwatch.notify.hours import Hours

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
NIGHT = NOON.replace(hour=2)
EIGHT = NOON.replace(hour=8, minute=1)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
STATUS = NotifierStatus("phone", "command", NOON - 30 * DAY, digest_at=NOON - 4 * HOUR)
HOT = ("temperature-high", "vessel:left")


def alarm(at: datetime = NOON, severity: Severity = Severity.WARNING, key: Key = HOT) -> Alarm:
    """Raised an hour ago."""
    since = at - HOUR
    return Alarm(*key, Condition.RAISED, severity, since=since, raised_at=since, occurrence=1, statement="hot")


def over(one: Alarm, at: datetime) -> Alarm:
    return replace(one, condition=Condition.NORMAL, since=at, cleared_at=at)


def told(one: Alarm, why: Why = Why.BEGAN, at: datetime = NOON - HOUR, times: int = 1) -> Told:
    return Due(one, why, times).told("phone", "m", at)


def looked(
    one: Alarm,
    now: datetime,
    before: Told | None = None,
    speaks: Speaks = Speaks.MORNING,
    status: NotifierStatus = STATUS,
) -> Why | None:
    found = due([Matter(one, speaks)], {} if before is None else {HOT: before}, status, now, Hours())
    return found[0].why if found else None


@pytest.mark.parametrize(
    ("speaks", "severity", "hour", "expected"),
    [
        (Speaks.MORNING, Severity.WARNING, 12, Why.BEGAN),
        (Speaks.MORNING, Severity.WARNING, 2, None),
        (Speaks.MORNING, Severity.WARNING, 6, None),
        (Speaks.MORNING, Severity.WARNING, 7, Why.BEGAN),
        (Speaks.MORNING, Severity.CRITICAL, 2, Why.BEGAN),
        (Speaks.ANY_HOUR, Severity.WARNING, 2, Why.BEGAN),
        (Speaks.DIGEST, Severity.WARNING, 12, None),
        (Speaks.DIGEST, Severity.CRITICAL, 2, Why.BEGAN),
        (Speaks.ANY_HOUR, Severity.ADVICE, 12, None),
    ],
)
def test_what_can_wait_waits_for_the_morning_or_the_digest(
    speaks: Speaks, severity: Severity, hour: int, expected: Why | None
) -> None:
    now = NOON.replace(hour=hour)
    status = replace(STATUS, digest_at=now)  # the digest of the day was sent
    assert looked(alarm(now, severity), now, speaks=speaks, status=status) is expected


def test_the_digest_takes_everything_along_once_a_day() -> None:
    advice = alarm(EIGHT, Severity.ADVICE, ("reading-due", "batch:b"))
    matters = [Matter(advice, Speaks.DIGEST), Matter(alarm(EIGHT), Speaks.MORNING)]
    yesterday = replace(STATUS, digest_at=EIGHT - DAY)
    assert [one.why for one in due(matters, {}, yesterday, EIGHT, Hours())] == [Why.BEGAN, Why.BEGAN]
    assert len(due(matters, {}, replace(STATUS, digest_at=EIGHT), EIGHT + HOUR, Hours())) == 1


def test_a_digest_that_was_missed_comes_when_the_watcher_is_back_but_not_at_night() -> None:
    hours, last = Hours(ZoneInfo("Europe/Vienna")), NOON - 3 * DAY
    assert hours.digest_is_due(last, NOON)
    assert not hours.digest_is_due(last, NIGHT)
    assert not hours.digest_is_due(NOON.replace(hour=7, minute=1), NOON)  # 08:01 in Vienna
    assert hours.digest_is_due(NOON.replace(hour=6, minute=59), NOON)


def test_a_new_notifier_is_told_what_stands_and_not_what_was() -> None:
    new = replace(STATUS, since=NOON - MINUTE, digest_at=None)
    assert looked(alarm(), NOON, status=new) is Why.BEGAN
    assert looked(over(alarm(NOON - HOUR), NOON - 2 * MINUTE), NOON, status=new) is None
    assert looked(alarm(severity=Severity.ADVICE), NOON, speaks=Speaks.DIGEST, status=new) is None


def test_who_was_told_is_told_the_end_too() -> None:
    hot = alarm()
    assert looked(over(hot, NOON), NOON, told(hot)) is Why.OVER
    assert looked(over(hot, NOON), NOON, told(hot, Why.OVER)) is None
    seen = replace(over(hot, NOON), acknowledged_at=NOON)
    assert looked(seen, NOON, told(hot)) is Why.OVER
    assert looked(replace(seen, statement=NO_MORE), NOON, told(hot)) is None
    assert looked(over(hot, NOON), NOON, told(hot), Speaks.DIGEST) is None  # small things just end


def test_an_end_wakes_only_whom_its_beginning_woke() -> None:
    hot = alarm(NIGHT, Severity.CRITICAL)
    assert looked(over(hot, NIGHT), NIGHT, told(hot, at=NIGHT - HOUR)) is Why.OVER
    assert looked(over(hot, NIGHT), NIGHT, told(hot, at=NIGHT - 8 * HOUR)) is None


def test_what_began_and_was_over_before_anybody_could_be_told_is_told_once_in_the_morning() -> None:
    passed, due_at_eight = over(alarm(NIGHT), NIGHT + HOUR), replace(STATUS, digest_at=EIGHT - DAY)
    assert looked(passed, NIGHT + 2 * HOUR, status=due_at_eight) is None
    assert looked(passed, EIGHT, status=due_at_eight) is Why.PASSED
    assert looked(passed, EIGHT, told(passed, Why.PASSED), status=due_at_eight) is None
    assert looked(replace(passed, acknowledged_at=NIGHT), EIGHT, status=due_at_eight) is None
    assert looked(passed, EIGHT + 4 * DAY, status=due_at_eight) is None
    short = over(alarm(NIGHT), NIGHT - 10 * MINUTE)
    assert looked(short, EIGHT, status=due_at_eight) is None


def test_what_is_getting_over_is_not_told_as_begun() -> None:
    easing = replace(alarm(), condition=Condition.CLEARING)
    assert looked(easing, NOON) is None
    assert looked(easing, NOON, told(alarm(), at=NOON - 3 * DAY)) is None


def test_of_what_was_told_days_ago_the_end_waits_for_the_digest() -> None:
    hot = alarm()
    assert looked(over(hot, NOON), NOON, told(hot, at=NOON - 3 * DAY)) is None
    status = replace(STATUS, digest_at=NOON - DAY)
    assert looked(over(hot, NOON), NOON, told(hot, at=NOON - 3 * DAY), status=status) is Why.OVER


def test_advice_is_told_twice_and_then_left_to_the_screen() -> None:
    advice, status = alarm(EIGHT, Severity.ADVICE), replace(STATUS, digest_at=EIGHT - DAY)
    once, twice = told(advice, at=EIGHT - 9 * DAY), told(advice, Why.AGAIN, EIGHT - 9 * DAY, times=2)
    assert looked(advice, EIGHT, once, Speaks.DIGEST, status) is Why.AGAIN
    assert looked(advice, EIGHT, twice, Speaks.DIGEST, status) is None


@pytest.mark.parametrize(
    "change",
    [
        {"acknowledged_at": NOON},
        {"shelved_until": NOON + HOUR},
        {"out_of_service": True},
        {"suppressed_by": "a cold crash"},
    ],
)
def test_what_was_seen_or_is_quiet_on_purpose_is_not_told(change: dict[str, object]) -> None:
    assert looked(replace(alarm(), **change), NOON) is None  # type: ignore[arg-type]


def test_a_shelf_that_ends_tells_what_began_meanwhile_exactly_once() -> None:
    again = replace(alarm(), occurrence=2)
    assert looked(replace(again, shelved_until=NOON), NOON - MINUTE, told(alarm(), Why.OVER)) is None
    assert looked(again, NOON, told(alarm(), Why.OVER)) is Why.BEGAN
    assert looked(again, NOON + MINUTE, told(again, at=NOON)) is None


def test_what_grows_graver_is_told_at_once() -> None:
    hot = alarm()
    assert looked(replace(hot, severity=Severity.CRITICAL), NOON, told(hot)) is Why.WORSE


@pytest.mark.parametrize(("times", "hours"), [(1, 2), (2, 6), (3, 24), (4, 48), (9, 168)])
def test_what_nobody_saw_is_told_again_later_and_later(times: int, hours: int) -> None:
    far = alarm(NOON, Severity.CRITICAL)
    before = told(far, Why.AGAIN, NOON - hours * HOUR, times)
    assert looked(far, NOON, before) is Why.AGAIN
    assert looked(far, NOON - MINUTE, before) is None


def test_a_warning_is_repeated_in_a_digest_alone() -> None:
    hot = alarm()
    before = told(hot, at=NOON - 3 * DAY)
    assert looked(hot, NOON, before) is None
    assert looked(hot, EIGHT, before, status=replace(STATUS, digest_at=EIGHT - DAY)) is Why.AGAIN


def test_what_began_just_now_waits_for_what_begins_with_it() -> None:
    just = replace(alarm(), raised_at=NOON - timedelta(seconds=10))
    assert looked(just, NOON) is None
    assert looked(just, NOON + timedelta(seconds=20)) is Why.BEGAN


def test_sixty_alarms_in_sixty_seconds_are_at_most_three_messages() -> None:
    status, known, messages, parts = STATUS, dict[Key, Told](), 0, 0
    alarms = [
        replace(alarm(key=("silent", f"probe:{n}")), raised_at=NOON + timedelta(seconds=n), occurrence=1)
        for n in range(60)
    ]
    for second in range(0, 3600, 5):
        now = NOON + timedelta(seconds=second)
        there = [Matter(one, Speaks.MORNING) for one in alarms if one.raised_at and one.raised_at <= now]
        found = due(there, known, status, now, Hours())
        if found:
            messages, parts = messages + 1, parts + len(found)
            status = replace(status, told_at=now)
            known |= {(one.alarm.rule, one.alarm.subject): one.told("phone", "m", now) for one in found}
    assert parts == 60
    assert messages <= 3


def test_the_worst_comes_first_and_what_is_over_last() -> None:
    grave = alarm(severity=Severity.CRITICAL, key=("temperature-high", "vessel:right"))
    gone = alarm(key=("source-lost", "source:board"))
    known = {("source-lost", "source:board"): told(gone)}
    found = due(
        [Matter(one, Speaks.MORNING) for one in (over(gone, NOON), alarm(), grave)], known, STATUS, NOON, Hours()
    )
    assert [one.alarm.subject for one in found] == ["vessel:right", "vessel:left", "source:board"]


TIMING = Timing(timedelta(minutes=10), timedelta(minutes=10))


@given(
    st.lists(st.tuples(st.sampled_from([True, False, None]), st.integers(1, 300)), max_size=40),
    st.lists(st.booleans(), min_size=60, max_size=60),
)
def test_however_things_come_and_go_each_occurrence_is_told_at_most_once_as_begun_and_no_standing_one_is_lost(
    story: list[tuple[bool | None, int]], reached: list[bool]
) -> None:
    """A notifier that is out of reach now and then: what it did not take over is told later, in order."""
    one, now = Alarm("temperature-high", "vessel:left"), NOON
    status, known, steps = replace(STATUS, since=NOON - DAY), dict[Key, Told](), list[tuple[int, Why]]()
    for index, (holds, minutes) in enumerate([*story, (None, 24 * 60), (None, 24 * 60)]):
        one, _ = step(one, Finding("temperature-high", "vessel:left", holds, Severity.CRITICAL), TIMING, now)
        now += minutes * MINUTE
        last = index >= len(story)
        found = due([Matter(one, Speaks.ANY_HOUR)], known, status, now, Hours())
        if found and (last or reached[index % len(reached)]):
            known = {HOT: found[0].told("phone", "m", now)}
            status = replace(status, told_at=now)
            steps.append((one.occurrence, found[0].why))
    begun = [number for number, why in steps if why in {Why.BEGAN, Why.PASSED}]
    assert begun == sorted(set(begun))
    for number in {number for number, _ in steps}:
        own = [why for occurrence, why in steps if occurrence == number]
        assert own[0] in {Why.BEGAN, Why.PASSED}
        assert all(why not in {Why.OVER, Why.PASSED} for why in own[:-1])
    if one.stands:
        assert one.condition is Condition.CLEARING or known[HOT].occurrence == one.occurrence
