"""A controller at work, on the thermal model of the simulator: what has no effect, what is beaten, what fights."""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import timedelta

import pytest

from fermwatch.alarms.life import Transition
from fermwatch.contracts.store import ControllerStatus
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind
from fermwatch.model.degree import Degree, Output
from fermwatch.model.finding import Severity
from fermwatch.rules.controlled import not_written
from fermwatch.rules.effect import NO_EFFECT
from fermwatch.rules.managing import AWAY, CYCLING, FIGHTING
from fermwatch.rules.temperature import HIGH, LEAVING
from fermwatch_sim.fridge import Fridge
from fermwatch_sim.thermal import AirController, Compressor
from tests.unit.rules.situations import DAY, HOUR, LEFT, MINUTE, Curve, Story, event, steady

RAISED, CLEARED = Transition.RAISED, Transition.CLEARED
LOUD = {HIGH, NO_EFFECT, AWAY, LEAVING}


def nothing(_: timedelta) -> None:
    return None


@dataclass
class Kept:
    """A fridge that its own controller keeps at a set point, and the story of what its probes say."""

    fridge: Fridge
    set_point_c: float = 18.0
    sees_air: bool = True
    story: Story = field(default_factory=Story)
    compressor: Compressor = field(default_factory=lambda: Compressor(state_s=3600.0, started_s=3600.0))

    def go_on(self, span: timedelta) -> "Kept":
        controller = AirController(self.set_point_c)
        for _ in range(span // self.story.every):
            for _minute in range(self.story.every // MINUTE):
                air_c, beer_c = self.fridge.air.air_c, self.fridge.beer_c
                self.compressor = controller.decide(self.compressor, air_c=air_c, beer_c=beer_c, dt_s=60.0)
                self.fridge.step(frozenset({Output.COOL}) if self.compressor.running else frozenset(), 60.0)
            self.story.go_on(
                self.story.every,
                steady(self.fridge.beer_c),
                steady(self.set_point_c),
                air=steady(self.fridge.air.air_c) if self.sees_air else nothing,
                cool=steady(float(self.compressor.running)),
            )
        return self

    @property
    def alarm(self) -> str:
        found = self.story.decider.alarms[NO_EFFECT, LEFT]
        assert found.stands
        return plain(f"{found.statement}. {found.remedy}")


def opened(fridge: Fridge) -> None:
    fridge.door_open = True


def dead(fridge: Fridge) -> None:
    fridge.cabinet = replace(fridge.cabinet, cooling_w=0.0)


def iced(fridge: Fridge) -> None:
    """As ice grows: a little every time."""
    cabinet = fridge.cabinet
    fridge.cabinet = replace(cabinet, plate_w_per_k=0.65 * cabinet.plate_w_per_k, cooling_w=0.65 * cabinet.cooling_w)


def speaking(kept: Kept) -> set[str]:
    return {one.rule for one in kept.story.decider.alarms.values() if one.stands and not one.is_quiet} & LOUD


@pytest.mark.parametrize(
    ("befalls", "told"),
    [
        (opened, "as with an open door. Close the door"),
        (dead, "Listen whether the compressor"),
        (iced, "Look whether the door closes all around, then for ice"),
    ],
)
@pytest.mark.parametrize("heat_w", [5.0, 15.0])
def test_a_door_a_dead_compressor_and_ice_are_told_apart_by_the_air(
    befalls: Callable[[Fridge], None], told: str, heat_w: float
) -> None:
    kept = Kept(Fridge.at(18.0))
    kept.fridge.heat_w, kept.fridge.room_c = heat_w, 24.0
    kept.go_on(8 * HOUR)
    assert kept.story.when(NO_EFFECT, RAISED) == []
    for _ in range(6):
        befalls(kept.fridge)
        kept.go_on(10 * MINUTE)
    kept.go_on(3 * HOUR)
    (raised,) = kept.story.when(NO_EFFECT, RAISED)
    assert raised - 8 * HOUR <= 3.5 * HOUR
    assert told in kept.alarm
    assert "Its set point of 18.0 °C need not be changed" in kept.alarm
    assert speaking(kept) == {NO_EFFECT}
    healthy = Fridge.at(18.0)
    kept.fridge.cabinet, kept.fridge.door_open = healthy.cabinet, False
    kept.go_on(2 * HOUR)
    assert len(kept.story.when(NO_EFFECT, CLEARED)) == 1


def test_what_a_beer_probe_alone_shows_is_no_verdict_on_the_door() -> None:
    kept = Kept(Fridge.at(18.0), sees_air=False)
    kept.fridge.heat_w = 15.0
    kept.go_on(8 * HOUR)
    dead(kept.fridge)
    kept.go_on(8 * HOUR)
    assert len(kept.story.when(NO_EFFECT, RAISED)) == 1
    assert "the beer does not get colder" in kept.alarm
    assert "Look at the door first, then listen" in kept.alarm
    assert "as with an open door" not in kept.alarm


@pytest.mark.parametrize("begins_c", [18.0, 27.0])
@pytest.mark.parametrize("room_c", [15.0, 30.0])
@pytest.mark.parametrize("heat_w", [0.0, 30.0])
@pytest.mark.parametrize("target_c", [18.0, 1.0])
def test_a_fridge_that_works_is_suspected_of_nothing(
    begins_c: float, room_c: float, heat_w: float, target_c: float
) -> None:
    """However hard it has to work, and though it cannot hold what it should: its air shows that it does."""
    kept = Kept(Fridge.at(begins_c), target_c)
    kept.story.events = (event(EventKind.CRASH),) if target_c < 5.0 else ()
    kept.fridge.heat_w, kept.fridge.room_c = heat_w, room_c
    kept.go_on(30 * HOUR)
    assert kept.story.when(NO_EFFECT, RAISED) == []
    assert kept.story.when(CYCLING, RAISED) == []


def test_a_short_look_inside_is_no_open_door() -> None:
    kept = Kept(Fridge.at(18.0))
    kept.fridge.heat_w = 15.0
    for _ in range(4):
        kept.go_on(3 * HOUR)
        kept.fridge.door_open = True
        kept.go_on(10 * MINUTE)
        kept.fridge.door_open = False
    assert kept.story.when(NO_EFFECT, RAISED) == []


def test_one_cause_is_one_alarm_all_the_way_and_the_gravest_names_the_door() -> None:
    kept = Kept(Fridge.at(18.0))
    kept.fridge.heat_w, kept.fridge.room_c = 25.0, 28.0
    kept.go_on(8 * HOUR)
    kept.fridge.door_open = True
    many = []
    for _ in range(5 * 12):
        kept.go_on(5 * MINUTE)
        many.append(len(speaking(kept)))
    assert not any(a > 1 and b > 1 for a, b in itertools.pairwise(many)), "the next decision knows it"
    hot = kept.story.decider.alarms[HIGH, LEFT]
    assert hot.needs_attention
    assert "as with an open door. Close the door" in plain(hot.remedy)
    assert kept.story.decider.alarms[NO_EFFECT, LEFT].told_by == HIGH


def test_who_drives_it_says_that_nothing_need_be_set() -> None:
    kept = Kept(Fridge.at(18.0))
    kept.story.controller = ControllerStatus("fridge", "left", Degree.DRIVE, 18.0, 30.0, (Output.COOL,))
    kept.fridge.heat_w = 15.0
    kept.go_on(8 * HOUR)
    opened(kept.fridge)
    kept.go_on(3 * HOUR)
    assert "fermwatch goes on toward 18.0 °C as soon as it has an effect: nothing need be set" in kept.alarm


def belted(beer: Curve, heat: float, air: float | None) -> Story:
    story = Story(controller=ControllerStatus("fridge", "left", Degree.SET, 20.0, 20.0))
    return story.go_on(4 * HOUR, beer, steady(20.0), heat=steady(heat), air=nothing if air is None else steady(air))


@pytest.mark.parametrize(
    ("rises_c_per_h", "on", "air_c", "told"),
    [
        (0.0, 1.0, 17.4, "fell out of its well"),
        (0.0, 1.0, 12.0, "is in its well; then at the belt"),
        (0.0, 1.0, None, "is in its well; then at the belt"),
        (0.5, 1.0, 12.0, ""),
        (0.0, 0.3, 12.0, ""),
    ],
)
def test_heat_without_effect_is_told(rises_c_per_h: float, on: float, air_c: float | None, told: str) -> None:
    story = belted(lambda since: 17.0 + rises_c_per_h * (since / HOUR), on, air_c)
    assert (NO_EFFECT in story.standing()) is bool(told)
    if told:
        assert told in plain(story.decider.alarms[NO_EFFECT, LEFT].remedy)


def test_heat_that_just_holds_the_beer_has_an_effect() -> None:
    assert NO_EFFECT not in belted(steady(20.0), 1.0, 12.0).standing()


@pytest.mark.parametrize(
    ("cool", "told"),
    [
        (1.0, "The cooling runs all the time and is beaten: another set point changes nothing"),
        (0.0, "The cooling is off, although the beer is warmer. Look at where its probe sits"),
    ],
)
def test_what_is_not_held_knows_what_the_output_did(cool: float, told: str) -> None:
    story = Story().go_on(6 * HOUR, steady(20.3), steady(18.5), cool=steady(cool), air=steady(3.0))
    assert told in plain(story.decider.alarms[AWAY, LEFT].remedy)


def test_what_is_driven_is_held_to_the_plan_and_not_to_the_knob_of_a_device() -> None:
    driven = ControllerStatus("fridge", "left", Degree.DRIVE, 20.0, 5.0, ())
    story = Story(controller=driven).go_on(6 * HOUR, steady(20.1), steady(5.0))
    assert AWAY not in story.standing()
    story = Story(controller=replace(driven, target_c=18.5)).go_on(6 * HOUR, steady(20.3), cool=steady(0.0))
    alarm = story.decider.alarms[AWAY, LEFT]
    assert "+1.8 °C from the plan's 18.5 °C" in plain(alarm.statement)
    assert "fermwatch controller show fridge" in alarm.remedy
    story.controller = replace(driven, target_c=None)
    story.go_on(HOUR, steady(20.3))
    assert AWAY not in story.standing(), "the plan is over"


def test_heat_knows_that_fermwatch_itself_sets_the_controller() -> None:
    controller = ControllerStatus("fridge", "left", Degree.SET, 23.0, 23.0)
    story = Story(controller=controller).go_on(5 * HOUR, steady(23.0), steady(23.0))
    remedy = plain(story.decider.alarms[HIGH, LEFT].remedy)
    assert "Lower the plan's target to 19 °C" in remedy
    assert "fermwatch plan change left" in remedy


def test_rests_that_are_too_short_for_a_compressor_are_told_though_its_starts_are_few() -> None:
    often = Story().switch(([True] * 18 + [False] * 2) * 8, MINUTE)
    assert CYCLING in often.standing()
    assert "rests of the compressor in 2 h were 3 min or less" in plain(often.decider.alarms[CYCLING, LEFT].statement)
    once = Story().switch([True] * 60 + [False] * 2 + [True] * 120, MINUTE)
    assert once.told == [], "once may be a person"


def test_a_compressor_that_is_driven_is_switched_by_somebody_else_if_it_cycles() -> None:
    story = Story(controller=ControllerStatus("fridge", "left", Degree.DRIVE, 18.0))
    story.switch([True, False] * 24, 5 * MINUTE)
    assert "something else does" in story.decider.alarms[CYCLING, LEFT].remedy


def test_a_standing_alarm_of_cycling_waits_for_clearly_fewer_starts() -> None:
    story = Story().switch([True, False] * 24, 5 * MINUTE)
    story.switch(([True] * 2 + [False] * 5) * 24, 2.5 * MINUTE)  # 3.4 an hour
    assert CYCLING in story.standing()
    story.switch(([True] * 10 + [False] * 20) * 12, MINUTE)
    assert CYCLING not in story.standing()


def both(cool: Curve, heat: Curve) -> Story:
    return Story(every=MINUTE).go_on(8 * HOUR, steady(18.5), cool=cool, heat=heat)


def pulse(begins: int, lasts: int, every: int) -> Curve:
    """On for `lasts` minutes, `begins` minutes into each `every`."""
    return lambda since: float(begins <= (since // MINUTE) % every < begins + lasts)


@pytest.mark.parametrize(
    ("cool", "heat", "told"),
    [
        (pulse(0, 20, 120), pulse(10, 20, 120), "were on together for"),
        (pulse(0, 20, 120), pulse(30, 20, 120), "followed each other within half an hour"),
        (pulse(0, 20, 240), pulse(60, 20, 240), ""),
        (pulse(0, 20, 120), steady(0.0), ""),
    ],
)
def test_heat_against_cool_is_told(cool: Curve, heat: Curve, told: str) -> None:
    story = both(cool, heat)
    assert (FIGHTING in story.standing()) is bool(told)
    if told:
        alarm = story.decider.alarms[FIGHTING, LEFT]
        assert alarm.severity is Severity.WARNING
        assert told in plain(alarm.statement)
        assert len(story.when(FIGHTING, RAISED)) == 1
        story.go_on(8 * HOUR, steady(18.5), cool=steady(0.0), heat=steady(0.0))
        assert FIGHTING not in story.standing()


def test_an_output_that_fell_silent_says_nothing_of_now() -> None:
    story = both(pulse(0, 20, 120), pulse(10, 20, 120))
    story.go_on(DAY, steady(18.5))
    assert story.decider.alarms[FIGHTING, LEFT].last_known


def test_what_a_plan_wants_is_not_asked_of_a_person_where_fermwatch_does_it() -> None:
    driven = not_written("left", "fridge", "it is cold", degree=Degree.DRIVE)
    assert driven.statement == "fridge does not do what the plan wants: it is cold"
    assert "Set it at the controller" not in driven.remedy


def test_an_empty_fridge_that_cools_with_its_door_open_is_nobodys_beer() -> None:
    story = Story(batch=None).go_on(3 * HOUR, steady(18.0), cool=steady(1.0), air=steady(18.0))
    assert NO_EFFECT not in story.standing()
