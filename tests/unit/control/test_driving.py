"""Outputs through the guard: off where anything is not known, never beyond the limits, and by a device's own record."""

import random
from dataclasses import replace
from datetime import UTC, datetime

from fermwatch.contracts.controller import Abilities, DeadMan, Seen
from fermwatch.control.degree import LEASE_S, OBSERVING, Arming
from fermwatch.control.driving import NO_EFFECT, Driven, Driving, Sight, drive
from fermwatch.control.guard import SetPointWish
from fermwatch.control.interlock import Outputs, Times
from fermwatch.model.batch import EventKind
from fermwatch.model.degree import Degree, Output
from fermwatch.model.intent import Band
from fermwatch.model.yeast import Yeast

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
YEAST = Yeast("ale", "of a test", 17.0, 21.0, 0.72, 0.78)
ALLOWED, TIMES = Band(1.0, 24.0), Times()
COOL, HEAT, NONE = frozenset({Output.COOL}), frozenset({Output.HEAT}), frozenset[Output]()
ABILITIES = Abilities(None, frozenset(Output), DeadMan(120.0, told=True))
ARMED = Arming(Degree.DRIVE, "anna", AT)
WISH = SetPointWish(18.0, YEAST)


def rested() -> Driving:
    return Driving(Outputs(frozenset(Output)).seen(NONE, -7200.0), armed_at=AT)


def look(
    state: Driving,
    beer_c: float | None,
    on: frozenset[Output] | None = NONE,
    *,
    wish: SetPointWish | None = WISH,
    arming: Arming = ARMED,
    abilities: Abilities = ABILITIES,
    air_c: float | None = None,
    now_s: float = 0.0,
) -> Driven:
    return drive(state, wish, Sight(Seen(AT, on=on), beer_c, air_c, now_s), arming, abilities, ALLOWED, TIMES)


def test_warm_beer_is_cooled_and_cold_beer_heated() -> None:
    warm, cold = look(rested(), 20.0), look(rested(), 15.0)
    assert warm.switch is not None
    assert warm.switch.on == COOL
    assert cold.switch is not None
    assert cold.switch.on == HEAT
    assert warm.switch.lease_s == LEASE_S


def test_what_a_wished_output_waits_for_is_told_and_is_no_trouble() -> None:
    begins = Driving(Outputs(frozenset(Output)).seen(NONE, 0.0), armed_at=AT)
    cold = look(begins, 15.0, now_s=60.0)
    assert (cold.switch, cold.why) == (None, "")
    assert cold.waits == "The cool was on, or may have been, within 30 min."
    assert look(begins, 15.0, now_s=1860.0).waits == ""
    assert look(rested(), 18.0).waits == "", "nothing is wished"


def test_nobody_is_driven_who_was_not_armed_or_has_no_plan() -> None:
    assert look(rested(), 20.0, arming=OBSERVING).switch is None
    assert look(rested(), 20.0, arming=Arming(Degree.SET, "anna", AT)).switch is None
    assert look(rested(), 20.0, wish=None).switch is None


def test_what_is_on_goes_off_where_beer_device_or_plan_are_not_known() -> None:
    """CTL-5 of the reliability page."""
    for found in (look(rested(), None, COOL), look(rested(), 20.0, COOL, wish=None)):
        assert found.switch is not None
        assert found.switch.on == NONE
    assert look(rested(), 20.0, None).switch is None, "a device that shows nothing drops it by its own dead-man"


def test_beer_that_is_hotter_than_beer_is_may_be_one_told_in_fahrenheit_and_is_not_cooled() -> None:
    """To 18 °F, which is ice."""
    found = look(rested(), 66.0, COOL)
    assert found.switch is not None
    assert found.switch.on == NONE
    assert "does it count in °F?" in found.why
    assert look(rested(), 66.0).switch is None


def test_a_target_outside_the_limits_switches_everything_off() -> None:
    found = look(rested(), 20.0, COOL, wish=SetPointWish(2.0, YEAST, EventKind.CRASH, cold_permitted=False))
    assert found.switch is not None
    assert found.switch.on == NONE
    assert "not safe to bottle" in found.why


def test_heat_without_a_dead_man_is_never_switched_on() -> None:
    bare = Abilities(None, frozenset(Output), None)
    assert look(rested(), 15.0, abilities=bare).switch is None


def test_a_lease_is_renewed_while_all_is_well_and_not_before_it_is_due() -> None:
    state, orders = look(rested(), 20.0, now_s=0.0).state, []
    for now_s in range(5, 300, 5):
        found = look(state, 20.0, COOL, now_s=float(now_s))
        state = found.state
        if found.switch is not None:
            assert not found.changes
            orders.append(now_s)
    assert orders == list(range(30, 300, 30))


def test_heat_without_effect_is_dropped_and_stays_off_until_it_is_armed_anew() -> None:
    """A probe that lies beside its well: 15 °C, and the belt on at full power."""
    state, on, now_s, dropped_s = rested(), NONE, 0.0, None
    while now_s < 3 * 3600.0:
        found = look(state, 15.0, on, now_s=now_s)
        state = found.state
        on = on if found.switch is None else found.switch.on
        if found.why == NO_EFFECT and dropped_s is None:
            dropped_s = now_s
        assert dropped_s is None or on == NONE
        now_s += 10.0
    assert dropped_s is not None
    assert 2700.0 <= dropped_s <= 2 * 3600.0, "45 min of heat, which is on for a share of the time"
    again = look(state, 15.0, now_s=now_s + 1800.0, arming=replace(ARMED, at=AT.replace(hour=15)))
    assert again.state.evidence.dropped is False


def test_heat_that_just_holds_the_beer_is_no_fault() -> None:
    state, on = rested(), NONE
    for now_s in range(0, 24 * 3600, 30):
        found = look(state, 17.8, on, air_c=12.0, now_s=float(now_s))
        state, on = found.state, on if found.switch is None else found.switch.on
        assert found.why == ""


def test_a_million_steps_of_faults_restarts_and_lost_buses_break_nothing() -> None:
    """By the relay's own record, in its own time: rest, run, starts an hour, heat never with cool, limits, leases, and
    nothing at all is ordered while observing.
    """
    chance = random.Random(4)
    state, arming, wish = Driving(Outputs(frozenset(Output))), OBSERVING, WISH
    beer_c: float | None = 18.0
    now_s, on, leased_s = 0.0, NONE, 0.0
    changed_s = {Output.COOL: -1e9, Output.HEAT: -1e9}
    starts: list[float] = []
    orders = 0
    for _ in range(1_000_000):
        now_s += chance.choice((1.0, 5.0, 5.0, 30.0, 300.0))
        if on and now_s >= leased_s:  # the device drops what nobody renewed
            changed_s |= dict.fromkeys(on, leased_s)
            on = NONE
        draw = chance.random()
        if draw < 0.01:
            arming = chance.choice((OBSERVING, ARMED, ARMED, Arming(Degree.DRIVE, "eve", AT.replace(hour=13))))
        elif draw < 0.012:
            state = Driving(Outputs(frozenset(Output)))  # a restart: nothing is known
        elif draw < 0.1:
            beer_c = chance.choice((None, 0.5, 2.0, 15.0, 17.0, 18.0, 18.2, 19.0, 21.0, 24.5, 40.0))
        elif draw < 0.11:
            target_c = chance.choice((2.0, 18.0, 20.0, 35.0, float("nan")))
            crash = EventKind.CRASH if target_c == 2.0 else None
            wish = SetPointWish(target_c, YEAST, crash, cold_permitted=chance.random() < 0.5)
        shown = None if chance.random() < 0.02 else on
        found = look(state, beer_c, shown, wish=wish, arming=arming, now_s=now_s)
        state = found.state
        if found.switch is None:
            continue
        orders += 1
        assert arming.degree is Degree.DRIVE
        assert found.switch.lease_s <= LEASE_S
        assert len(found.switch.on) <= 1
        if found.switch.on:
            assert beer_c is not None
            assert Output.HEAT not in found.switch.on or beer_c < ALLOWED.high_c
            assert Output.COOL not in found.switch.on or beer_c > ALLOWED.low_c or Output.COOL in on
        if chance.random() < 0.02:
            continue  # the order is lost
        for output in found.switch.on - on:
            other = next(iter(frozenset(Output) - {output}))
            assert now_s - changed_s[other] >= TIMES.lockout_s
            if output is Output.COOL:
                assert now_s - changed_s[output] >= TIMES.rest_s
                starts = [at_s for at_s in starts if now_s - at_s < 3600.0] + [now_s]
                assert len(starts) <= TIMES.starts_an_hour
        changed_s |= dict.fromkeys(on ^ found.switch.on, now_s)
        on, leased_s = found.switch.on, now_s + found.switch.lease_s
    assert orders > 10_000, "and it does drive"
