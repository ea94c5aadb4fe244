"""The bell rings for what calls somebody anew, once, and for nothing else."""

from dataclasses import replace
from datetime import timedelta
from unittest.mock import Mock

import pytest

from fermwatch.contracts.feed import Snapshot
from fermwatch.dashboard.events import Do, SnapshotRead
from fermwatch.dashboard.state import State, absorb
from fermwatch.model.finding import Severity
from tests.dashboard.feeds import dashboard
from tests.dashboard.snapshots import healthy, hot, snapshot
from tests.dashboard.test_keys import SIZE, until_shown

CALM, HOT = snapshot(healthy(), replace(hot(), alarms=())), snapshot(healthy(), hot())


def later(seen: Snapshot, seconds: float) -> Snapshot:
    return replace(seen, wall_now=seen.wall_now + timedelta(seconds=seconds))


def with_alarm(**changes: object) -> Snapshot:
    (alarm, *_) = HOT.alarms
    return replace(HOT, alarms=(replace(alarm, **changes),))  # type: ignore[arg-type]


def rung(*seen: Snapshot) -> list[bool]:
    state, rang = State(), []
    for one in seen:
        state, effects = absorb(state, SnapshotRead(one))
        rang.append(Do.RING in effects)
    return rang


def test_what_is_new_rings_once() -> None:
    assert rung(CALM, HOT, later(HOT, 120)) == [False, True, False]


def test_what_stood_when_somebody_came_is_on_the_screen() -> None:
    assert rung(HOT, later(HOT, 1)) == [False, False]


def test_of_many_within_a_minute_one_is_heard_also_when_the_clock_steps_back() -> None:
    again = [later(with_alarm(occurrence=number), number * 10.0) for number in range(2, 7)]
    assert rung(CALM, HOT, *again) == [False, True, False, False, False, False, True]
    assert rung(CALM, HOT, later(with_alarm(occurrence=9), -3600.0))[-1]


@pytest.mark.parametrize(
    "changes",
    [
        {"severity": Severity.ADVICE},
        {"acknowledged_at": HOT.now, "acknowledged_by": "eva"},
        {"shelved_until": HOT.now + timedelta(hours=1), "shelved_by": "eva"},
        {"out_of_service": True},
        {"suppressed_by": "source:board"},
        {"told_by": "source-lost"},
    ],
)
def test_what_calls_nobody_does_not_ring(changes: dict[str, object]) -> None:
    assert rung(CALM, with_alarm(**changes)) == [False, False]


@pytest.mark.parametrize("bell", [True, False])
async def test_the_terminal_is_rung_unless_it_is_to_be_still(bell: bool) -> None:
    app = dashboard(CALM, bell=bell)
    app.bell = Mock()  # type: ignore[method-assign]
    async with app.run_test(size=SIZE) as pilot:
        await until_shown(pilot, "next")
        app.absorb(SnapshotRead(HOT))
        await pilot.pause()
    assert app.bell.called is bell
