"""Nothing is written until a person armed it, and heat is never driven where nothing but fermwatch would end it."""

from datetime import UTC, datetime
from itertools import product

import pytest

from fermwatch.contracts.controller import Abilities, DeadMan, Seen, SetPoint, SetPointAbility, Switch
from fermwatch.control.degree import OBSERVING, Arming, Refused, arm, drivable, may
from fermwatch.model.degree import CAUTION, Degree, Output

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
BOTH, COOL, HEAT = frozenset(Output), frozenset({Output.COOL}), frozenset({Output.HEAT})
SETTABLE = SetPointAbility(-10.0, 40.0, 0.1, 100_000)
SEEN = Seen(AT)
TOLD = Abilities(SETTABLE, BOTH, DeadMan(120.0, told=True))
REQUESTS = (SetPoint(18.0), Switch(COOL, 120.0), Switch(frozenset(), 120.0))


def test_while_observing_nothing_may_be_written() -> None:
    assert not any(may(OBSERVING, what, TOLD, SEEN) for what in REQUESTS)


def test_each_degree_may_only_do_its_own() -> None:
    assert [may(Arming(Degree.SET, "a", AT), what, TOLD, SEEN) for what in REQUESTS] == [True, False, False]
    assert [may(Arming(Degree.DRIVE, "a", AT), what, TOLD, SEEN) for what in REQUESTS] == [False, True, True]


@pytest.mark.parametrize(("lease_s", "allowed"), [(120.0, True), (121.0, False), (0.0, False), (float("nan"), False)])
def test_a_lease_is_short(lease_s: float, allowed: bool) -> None:
    assert may(Arming(Degree.DRIVE, "a", AT), Switch(COOL, lease_s), TOLD, SEEN) is allowed


def test_a_lease_is_no_longer_than_the_device_takes() -> None:
    short = Abilities(None, BOTH, DeadMan(60.0, told=True))
    assert may(Arming(Degree.DRIVE, "a", AT), Switch(HEAT, 60.0), short, SEEN)
    assert not may(Arming(Degree.DRIVE, "a", AT), Switch(HEAT, 61.0), short, SEEN)


@pytest.mark.parametrize(
    ("dead_man", "shown_s", "expected"),
    [
        (None, None, COOL),
        (DeadMan(120.0, told=True), None, BOTH),
        (DeadMan(60.0, told=False), None, COOL),
        (DeadMan(60.0, told=False), 60.0, BOTH),
        (DeadMan(60.0, told=False), 0.0, COOL),
        (DeadMan(60.0, told=False), 3600.0, COOL),
    ],
)
def test_heat_needs_a_dead_man_that_was_checked(
    dead_man: DeadMan | None, shown_s: float | None, expected: frozenset[Output]
) -> None:
    assert drivable(Abilities(None, BOTH, dead_man), Seen(AT, dead_man_s=shown_s)) == expected


def test_arming_repeats_the_caution_and_says_who() -> None:
    armed = arm(Degree.DRIVE, Degree.DRIVE, TOLD, SEEN, f"  {CAUTION.upper()} ", "somebody", AT)
    assert armed == Arming(Degree.DRIVE, "somebody", AT)
    assert isinstance(arm(Degree.DRIVE, Degree.DRIVE, TOLD, SEEN, "yes", "somebody", AT), Refused)


def test_only_what_the_configuration_says_can_be_armed() -> None:
    for wished, configured in product((Degree.SET, Degree.DRIVE), Degree):
        armed = arm(wished, configured, TOLD, SEEN, CAUTION, "somebody", AT)
        assert isinstance(armed, Arming) is (wished is configured)


def test_what_the_device_cannot_do_is_not_armed() -> None:
    for degree, abilities in ((Degree.SET, Abilities()), (Degree.DRIVE, Abilities(outputs=HEAT))):
        assert isinstance(arm(degree, degree, abilities, SEEN, CAUTION, "somebody", AT), Refused)


def test_to_observe_needs_nothing() -> None:
    assert arm(Degree.OBSERVE, Degree.OBSERVE, Abilities(), SEEN, "", "", AT) == Arming(Degree.OBSERVE, "", AT)
