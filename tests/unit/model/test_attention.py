"""What people may do to an alarm, and what they may not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fermwatch.errors import RequestRefused
from fermwatch.model.attention import acknowledge, set_service, shelve, unshelve
from fermwatch.model.finding import Alarm, Condition

NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
NEVER = Alarm("temperature-high", "vessel:left")
RAISED = replace(NEVER, condition=Condition.RAISED, raised_at=NOW, occurrence=1)


def test_an_acknowledged_alarm_says_by_whom_and_needs_nobody_any_more() -> None:
    seen = acknowledge(RAISED, "ada", NOW)
    assert (seen.acknowledged_by, seen.acknowledged_at) == ("ada", NOW)
    assert seen.stands
    assert not seen.needs_attention


def test_one_that_cleared_before_anybody_saw_it_can_still_be_acknowledged() -> None:
    cleared = replace(RAISED, condition=Condition.NORMAL, cleared_at=NOW)
    assert not cleared.needs_attention  # it calls nobody any more
    assert cleared.lingers(NOW)
    assert not cleared.lingers(NOW + timedelta(hours=25))
    assert not acknowledge(cleared, "ada", NOW).lingers(NOW)
    assert not acknowledge(cleared, "ada", NOW).needs_attention


def test_what_was_never_raised_or_is_seen_already_is_not_acknowledged() -> None:
    with pytest.raises(RequestRefused, match="nothing to acknowledge"):
        acknowledge(NEVER, "ada", NOW)
    with pytest.raises(RequestRefused, match="already acknowledged by ada"):
        acknowledge(acknowledge(RAISED, "ada", NOW), "bob", NOW)


@pytest.mark.parametrize("hours", [0.1, 2, 24])
def test_it_is_shelved_until_an_end_at_most_a_day_away(hours: float) -> None:
    until = NOW + timedelta(hours=hours)
    shelved = shelve(RAISED, until, "ada", NOW)
    assert (shelved.shelved_until, shelved.shelved_by) == (until, "ada")
    assert not shelved.needs_attention
    assert unshelve(shelved) == RAISED


@pytest.mark.parametrize(("hours", "why"), [(0, "lie ahead"), (-1, "lie ahead"), (24.1, "24 hours at most")])
def test_a_shelf_without_a_proper_end_is_refused(hours: float, why: str) -> None:
    with pytest.raises(RequestRefused, match=why):
        shelve(RAISED, NOW + timedelta(hours=hours), "ada", NOW)


def test_what_is_not_shelved_cannot_be_unshelved() -> None:
    with pytest.raises(RequestRefused, match="not shelved"):
        unshelve(RAISED)


def test_out_of_service_lasts_until_it_is_put_back() -> None:
    out = set_service(RAISED, "ada", NOW, out=True)
    assert not out.needs_attention
    assert set_service(out, "ada", NOW, out=False) == RAISED
