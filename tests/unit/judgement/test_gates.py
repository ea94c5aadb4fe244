"""Each gate before `safe` alone: what meets it, what does not, and what it says would."""

from dataclasses import replace

import pytest

from fermwatch.judgement import gates
from fermwatch.judgement.facts import ToldTemperature
from fermwatch.judgement.gates import Checked, Gate
from fermwatch.judgement.phase import PhaseMemory
from fermwatch.judgement.view import View
from fermwatch.model.amounts import plain
from fermwatch.model.batch import EventKind, Instrument, PackageChoice
from fermwatch.model.finding import Phase
from tests.unit.judgement.beer import LAGER, a_batch, brewed, event, fermenting, reading, view_of

END_H = 14 * 24.0 - 1.0
READINGS = (0.3, 168.0, 216.0, 264.0, 312.0)


def view(hour: float = END_H, end: float = 12.0, **more: object) -> View:
    more.setdefault("read_at", READINGS)
    return view_of(brewed(fermenting(end=end), hour / 24.0, **more), hour)  # type: ignore[arg-type]


FINISHED = view()
READ_ONCE = view(read_at=(0.3, 312.0))  # so that what is left is not known well enough to stand in for waiting


def said(checked: Checked) -> str:
    return plain(checked.evidence.statement)


def asked(checked: Checked) -> str:
    return plain(checked.evidence.remedy)


def names(view: View, phase: Phase = Phase.CONDITIONING, *, ever_stalled: bool = False) -> set[Gate]:
    memory = PhaseMemory(phase, ever_stalled=ever_stalled)
    return {one.gate for one in gates.check(view, memory, still_h=48.0, risk=None)}


def test_an_ordinary_beer_is_asked_the_ordinary_questions_and_no_others() -> None:
    assert names(FINISHED) == {Gate.STILL, Gate.ATTENUATION, Gate.WARM, Gate.READING, Gate.PACKAGE}


def test_whatever_is_odd_about_a_beer_is_asked_too() -> None:
    facts = FINISHED.facts
    odd = {
        Gate.ORIGINAL: replace(facts, original_sd=5.0),
        Gate.LAGER: replace(facts, bottom_fermenting=True),
        Gate.HOPS: replace(facts, last_hops_h=200.0),
        Gate.CREEP: replace(facts, diastatic=True),
        Gate.YEAST: replace(facts, wild=True),
    }
    for gate, one in odd.items():
        assert gate in names(replace(FINISHED, facts=one))
    assert Gate.YEAST in names(replace(FINISHED, facts=replace(facts, maltose_negative=True)))
    assert Gate.STALL in names(FINISHED, ever_stalled=True)


def test_a_gate_that_is_met_asks_for_nothing() -> None:
    for one in gates.check(FINISHED, PhaseMemory(Phase.CONDITIONING), still_h=48.0, risk=None):
        assert one.met == (not one.evidence.remedy)


def test_stillness_is_told_by_its_chance_and_never_of_a_beer_that_nobody_hears() -> None:
    assert gates.still(READ_ONCE).met
    falling = gates.still(view(72.0))
    assert not falling.met
    assert "falls" in said(falling)
    unheard = gates.still(replace(READ_ONCE, measured=None))
    assert not unheard.met
    assert "no gravity was measured since the pitch" in said(unheard)
    assert asked(unheard) == gates.READ


def test_little_left_takes_the_place_of_stillness_warmth_and_a_probe_that_speaks() -> None:
    assert "more than 1 point is left to ferment" in said(gates.still(FINISHED))
    chilled = view(temperature_c=lambda hour: 20.0 if hour < 270.0 else 2.0)
    assert gates.warm(chilled).met
    bins = [b if i < len(FINISHED.bins) - 6 else replace(b, gravity=None) for i, b in enumerate(FINISHED.bins)]
    assert gates.reading(replace(FINISHED, bins=bins)).met
    too_soon = view(temperature_c=lambda hour: 20.0 if hour < 80.0 else 2.0)
    assert not gates.warm(too_soon).met


def test_attenuation_counts_only_where_something_measured_the_level() -> None:
    assert gates.attenuation(FINISHED, Phase.TERMINAL).met
    high = gates.attenuation(view(end=17.0), Phase.SLOWING)
    assert not high.met
    assert "rouse it gently" in asked(high)
    by_refractometer = brewed(fermenting(), 14, probe=False)
    for hour in (200.0, 300.0):
        by_refractometer.add_measurement(reading(hour, 12.0, Instrument.REFRACTOMETER))
    ungrounded = gates.attenuation(view_of(by_refractometer, END_H), Phase.TERMINAL)
    assert not ungrounded.met
    assert "tells no level in fermenting beer" in said(ungrounded)


@pytest.mark.parametrize("phase", [Phase.LAG, Phase.ACTIVE, Phase.RESTARTED])
def test_a_beer_that_has_only_begun_is_left_alone(phase: Phase) -> None:
    early = gates.attenuation(view(40.0), phase)
    assert not early.met
    assert asked(early) == gates.TOO_EARLY[phase]


def test_a_stall_behind_it_asks_for_more_than_the_lowest_end() -> None:
    low = view(end=13.8)  # 72.4 %, the range's lower edge
    assert gates.attenuation(low, Phase.TERMINAL).met
    assert not gates.stall_behind(low).met
    assert gates.stall_behind(view(end=11.0)).met


@pytest.mark.parametrize(
    ("celsius", "met", "remedy"),
    [(20.0, True, ""), (15.0, True, ""), (13.0, False, "Warm it to"), (2.0, False, "Warm")],
)
def test_steady_counts_only_while_it_is_warm(celsius: float, met: bool, remedy: str) -> None:
    warm = gates.warm(view(read_at=(0.3, 312.0), temperature_c=lambda hour: 20.0 if hour < 200.0 else celsius))
    assert warm.met == met
    assert asked(warm).startswith(remedy)


def test_a_beer_without_a_thermometer_is_warm_by_a_persons_word() -> None:
    judge = brewed(fermenting(), 14, probe=False, read_at=(0.3, 312.0))
    alone = replace(view_of(judge, END_H), bins=[replace(b, temperature_known=False) for b in view().bins])
    assert said(gates.warm(alone)) == "no beer temperature is known"
    assert "Say how warm it stands" in asked(gates.warm(alone))
    told = replace(alone, facts=replace(alone.facts, stood=(ToldTemperature(0.0, END_H, 19.0),)))
    assert gates.warm(told).met


def test_a_lager_wants_two_warm_days_or_patience() -> None:
    cold = view(batch=a_batch(yeast=LAGER), temperature_c=lambda _: 11.0)
    assert not gates.lager(cold, still_h=0.0).met
    assert gates.lager(cold, still_h=gates.LAGER_PATIENCE_H).met
    rested = view(batch=a_batch(yeast=LAGER), temperature_c=lambda hour: 16.0 if 240.0 < hour < 295.0 else 11.0)
    assert gates.lager(rested, still_h=0.0).met
    assert not gates.lager(
        view(batch=a_batch(yeast=LAGER), temperature_c=lambda hour: 16.0 if hour < 40.0 else 11.0, hour=500.0), 0.0
    ).met, "its warm days were its first ones, weeks ago"


def test_a_reading_by_hand_must_be_fresh_and_agree_with_the_trend() -> None:
    assert gates.reading(FINISHED).met
    old = gates.reading(view(read_at=(0.3, 100.0)))
    assert not old.met
    assert asked(old) == gates.READ
    apart = gates.reading(replace(FINISHED, apart=FINISHED.settings.reading_apart + 0.1))
    assert not apart.met
    assert "another hydrometer reading" in asked(apart)


def test_a_probe_that_has_fallen_silent_is_no_witness() -> None:
    bins = [b if i < len(READ_ONCE.bins) - 6 else replace(b, gravity=None) for i, b in enumerate(READ_ONCE.bins)]
    silent = gates.reading(replace(READ_ONCE, bins=bins))
    assert not silent.met
    assert not silent.readable, "a reading would not settle it while the probe counts"
    assert "the probe is silent" in said(silent)


def test_hops_take_five_days_a_reading_after_them_and_a_nose() -> None:
    hopped = [event(170.0, EventKind.DRY_HOP, grams=60.0)]
    assert not gates.hops(view(events=hopped), 170.0).met
    nose = event(300.0, EventKind.DIACETYL_TEST, passed=True)
    assert gates.hops(view(events=[*hopped, nose]), 170.0).met
    unread = view(events=[*hopped, nose], read_at=(0.3, 168.0))
    assert "hydrometer reading on or after day 5: no" in said(gates.hops(unread, 170.0))


def test_slow_sugars_take_two_readings_a_fortnight_apart_and_heavy_bottles() -> None:
    heavy = a_batch(package=PackageChoice("heavy-glass", 2.4, 25.0))
    long_h = 30 * 24.0
    read_at = (0.3, 300.0, 500.0, 700.0)
    light = view(long_h, read_at=read_at)
    assert "two hydrometer readings 14 days apart within 1 point: yes" in said(gates.creep(light))
    assert not gates.creep(light).met, "returnable glass is not made for a creep"
    assert gates.creep(view(long_h, read_at=read_at, batch=heavy)).met
    assert not gates.creep(view(long_h, read_at=(0.3, 600.0, 700.0), batch=heavy)).met


@pytest.mark.parametrize(
    ("read", "stood"),
    [
        ((240.0, 10.0, 400.0, 10.0, 570.0, 9.0), True),
        ((240.0, 9.0, 400.0, 9.0, 570.0, 10.0), True),  # reads higher later: no creep
        ((240.0, 8.0, 400.0, 10.0, 570.0, 8.0), False),  # crept down to one that had slipped
        ((240.0, 6.0, 400.0, 9.0, 570.0, 7.0), False),
        ((240.0, 10.0, 310.0, 9.0, 570.0, 8.0), False),  # stands since 310, eleven days
        ((240.0, 12.0, 245.0, 9.0, 570.0, 8.0), True),
        ((246.0, 9.0, 570.0, 9.0), True),  # 13.5 days: as people keep a fortnight
        ((252.0, 9.0, 570.0, 9.0), False),
    ],
)
def test_a_fortnight_counts_from_the_last_that_stood_higher(read: tuple[float, ...], *, stood: bool) -> None:
    judge = brewed(fermenting(), 25, probe=False, read_at=(0.3,))
    for hour, points in zip(read[::2], read[1::2], strict=True):
        judge.add_measurement(reading(hour, points))
    assert gates.stood_a_fortnight(view_of(judge, 580.0)) is stood


def test_wild_yeast_is_never_called_safe_and_no_reading_helps() -> None:
    wild = gates.yeast(replace(FINISHED, facts=replace(FINISHED.facts, wild=True)))
    assert not wild.met
    assert not wild.readable


def test_without_a_package_there_is_nothing_to_be_safe_in() -> None:
    none = gates.package(view(batch=a_batch(package=None)), None)
    assert said(none) == "no package is chosen"
