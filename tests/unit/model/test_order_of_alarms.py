"""Which alarm comes first, and which is quiet: said once, so that no list, lane or command can say it otherwise."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from operator import attrgetter

from hypothesis import given
from hypothesis import strategies as st

from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.saying.facts import worth_showing
from fermwatch.saying.quiet import kept_quiet

NOW = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)


def raised(rule: str, severity: Severity, hours_ago: float, *, seen: bool = False) -> Alarm:
    at = NOW - timedelta(hours=hours_ago)
    alarm = Alarm(rule, "vessel:left", Condition.RAISED, severity, at, raised_at=at, occurrence=1)
    return replace(alarm, acknowledged_at=NOW) if seen else alarm


def test_what_calls_somebody_comes_first_then_the_worst_then_the_oldest() -> None:
    right = [
        raised("dead", Severity.CRITICAL, 1),
        raised("hot", Severity.WARNING, 9),
        raised("cold", Severity.WARNING, 2),
        raised("hint", Severity.ADVICE, 30),
        raised("known-danger", Severity.CRITICAL, 40, seen=True),
        raised("known", Severity.WARNING, 50, seen=True),
    ]
    upside_down = right[::-1]
    assert sorted(upside_down, key=attrgetter("urgency")) == right
    assert worth_showing(tuple(upside_down)) == right


alarms = st.builds(
    Alarm,
    rule=st.sampled_from(["hot", "stalled"]),
    subject=st.just("vessel:left"),
    condition=st.sampled_from(Condition),
    severity=st.sampled_from(Severity),
    occurrence=st.integers(0, 2),
    raised_at=st.none() | st.just(NOW),
    cleared_at=st.none() | st.just(NOW),
    acknowledged_at=st.none() | st.just(NOW),
    shelved_until=st.none() | st.just(NOW + timedelta(hours=1)),
    out_of_service=st.booleans(),
    suppressed_by=st.sampled_from(["", "a planned crash"]),
    told_by=st.sampled_from(["", "source-lost"]),
)


@given(alarms)
def test_an_alarm_that_stands_is_shown_or_quiet_or_told_by_another_and_never_two_of_them(alarm: Alarm) -> None:
    shown, quiet = alarm in worth_showing((alarm,)), alarm.stands_quietly
    told_quietly = alarm.stands and alarm.is_quiet and bool(alarm.told_by)
    assert shown + quiet + told_quietly == (1 if alarm.stands else int(shown))
    assert not (alarm.needs_attention and alarm.is_quiet)
    assert bool(kept_quiet([alarm])) == (alarm.stands and alarm.kept_quiet)
