"""The gates before `safe`: each a piece of evidence with its number, whether it is met, and what would meet it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from fermwatch.judgement import limit
from fermwatch.judgement.contradiction import contradiction
from fermwatch.judgement.filling import is_keg, named, takes_creep
from fermwatch.judgement.fresh import LEAST_HEARD_H, fresh_level, heard_h, no_level, shown_sg, silence
from fermwatch.judgement.leftover import MOST_CREEPING, MOST_OVER_ONE, MOST_OVER_TWO, levels, little_left, pace_of
from fermwatch.judgement.packaging import PackageRisk
from fermwatch.judgement.phase import PhaseMemory
from fermwatch.judgement.settings import BIN_H, WARM_BELOW_RANGE_C
from fermwatch.judgement.stillness import HandReading
from fermwatch.judgement.view import Measured, View
from fermwatch.model.amounts import gravity, instant, points, temperature, temperature_range, typed_temperature, warmth
from fermwatch.model.finding import Evidence, Phase

WARM_SHARE = 0.9
WARM_RANGE_C = 6.0
COLD_SHOWS_LITTLE_C = 15.0
LAGER_WARM_H = 48.0
LAGER_PATIENCE_H = 24.0
DIASTATIC_APART_DAYS = 14.0
A_FORTNIGHT_H = DIASTATIC_APART_DAYS * 24.0 - 12.0  # as people keep it who read some evening
DIASTATIC_WITHIN = 1.05  # points that it may fall in that time: what reads higher later did not creep
HOPS_DAYS = 5.0
ORIGIN_TRUSTED_SD = 2.0
READ = "Take one degassed hydrometer reading."
# Beer that has only begun is left alone, however little of its sugar is gone.
TOO_EARLY = {
    Phase.LAG: "Wait: it has not begun to fall yet.",
    Phase.NOT_STARTED: "See that it starts.",
    Phase.ACTIVE: "Wait: it is still fermenting.",
    Phase.RESTARTED: "Wait: it ferments again.",
}


class Gate(StrEnum):
    STILL = "still"
    ATTENUATION = "attenuation"
    ORIGINAL = "original gravity"
    WARM = "warm"
    LAGER = "warm rest"
    READING = "hydrometer reading"
    AGREEING = "readings by hand"
    STALL = "no stall behind it"
    HOPS = "after dry hops"
    CREEP = "slow sugars"
    YEAST = "yeast"
    PACKAGE = "package"


@dataclass(frozen=True, slots=True)
class Checked:
    """readable: whether a hydrometer reading may meet it, where it is not met.

    fits: what its package may hold. against: what speaks against the package, where that is not how lively it would be.
    """

    gate: Gate
    evidence: Evidence
    readable: bool = True
    fits: str = ""
    against: str = ""

    @property
    def met(self) -> bool:
        return self.evidence.met


def check(view: View, phase: PhaseMemory, *, still_h: float, risk: PackageRisk | None) -> tuple[Checked, ...]:
    """Every gate that this batch must pass, the most telling first. still_h: how long it has been shown to be still."""
    return tuple(_gates(view, phase, still_h=still_h, risk=risk))


def _gates(view: View, phase: PhaseMemory, *, still_h: float, risk: PackageRisk | None) -> Iterator[Checked]:
    facts = view.facts
    yield still(view)
    yield attenuation(view, phase.phase)
    if facts.original_sd > ORIGIN_TRUSTED_SD or facts.blended:
        yield original(view)
    if phase.ever_stalled:
        yield stall_behind(view)
    yield warm(view)
    if facts.bottom_fermenting:
        yield lager(view, still_h)
    if facts.last_hops_h is not None:
        yield hops(view, facts.last_hops_h)
    if facts.diastatic or view.above_range(0.9):
        yield creep(view)
    if facts.wild or facts.maltose_negative:
        yield yeast(view)
    if (apart := contradiction(view.since_restart())) is not None:
        yield agreeing(view, *apart)
    yield reading(view)
    yield package(view, risk)


def _checked(gate: Gate, met: bool, statement: str, remedy: str = "", *, readable: bool = True) -> Checked:
    return Checked(gate, Evidence(str(gate), met, statement, "" if met else remedy), readable or met)


def still(view: View) -> Checked:
    if (pair := limit.settled(view)) is not None:
        hours = pair.last.hour - pair.first.hour
        apart = f"{hours:.0f} h" if hours < 48.0 else f"{hours / 24.0:.0f} days"
        statement = (
            f"two equal hydrometer readings {apart} apart, {shown_sg(pair.first)} and {shown_sg(pair.last)}, where the "
            "forced ferment ended: nothing is left to fall"
        )
        return _checked(Gate.STILL, True, statement)
    if little_left(view):
        return _checked(Gate.STILL, True, _left(view))
    if not view.speaks_of_now:
        statement = f"{_last_heard(view)}: nothing tells whether it falls now"
        return _checked(Gate.STILL, False, statement, READ)
    most, decline = view.still_limit, view.decline
    chance = decline.chance_of(most)
    accepted = view.settings.still_risk
    statement = (
        f"{pace_of(view)}; the chance that it falls by {points(most, 2)} a day or more is {chance:.0%}, "
        f"at most {accepted:.0%} will do"
    )
    if view.day_temperature_c < COLD_SHOWS_LITTLE_C and view.known_temperatures(24.0):
        statement += f"; steady at {temperature(view.day_temperature_c, 0)} shows little about {temperature(20.0, 0)}"
    remedy = "Wait; another hydrometer reading a day or more after the last narrows it."
    return _checked(Gate.STILL, chance <= accepted, statement, remedy)


def _left(view: View) -> str:
    found = view.remaining
    return (
        f"the chance that more than {points(1.0, 0)} is left to ferment is {found.over_one:.0%}, more than "
        f"{points(2.0, 0)} {found.over_two:.1%}, and that it creeps on {found.creeping:.1%}; at most "
        f"{MOST_OVER_ONE:.0%}, {MOST_OVER_TWO:.0%} and {MOST_CREEPING:.1%} will do"
    )


def _last_heard(view: View) -> str:
    if view.measured is None:
        return first_heard(view) or "no gravity was measured since the pitch"
    last = view.measured
    return f"last measured {gravity(1.0 + last.gravity / 1000.0)} by {last.by} on {instant(view.facts.at(last.hour))}"


def first_heard(view: View) -> str:
    """Where a gravity was heard, and not for long enough to judge by it."""
    since_h = view.heard_since_h
    return "" if since_h is None else f"first heard {instant(view.facts.at(since_h))}; judged once some hours are heard"


def attenuation(view: View, phase: Phase) -> Checked:
    facts = view.facts
    if limit.holds(view) and facts.forced is not None:
        above = view.shown_gravity - facts.forced.gravity
        return _checked(Gate.ATTENUATION, True, f"{points(above, 1, signed=True)} from the forced ferment's limit")
    rouse = "rouse it gently, at the top of its yeast's range, and wait"
    remedy = f"A forced ferment test tells whether the wort has more to give; or {rouse}."
    if phase in TOO_EARLY:
        remedy = TOO_EARLY[phase]
    if view.measured is None:
        statement = f"{_last_heard(view)}; {_range(view)}"
        return _checked(Gate.ATTENUATION, False, statement, READ)
    statement = f"apparent attenuation {max(view.attenuation_read, 0.0):.0%}{_rests_on(view, view.measured)}"
    grounded = view.probed or view.level is not None
    met = grounded and min(view.attenuation, view.attenuation_read) >= facts.attenuation_low and not facts.blended
    if not grounded:
        remedy = READ
    doubt = f". The forced ferment does not count: {facts.forced_doubt.rstrip('.')}" if facts.forced_doubt else ""
    return _checked(Gate.ATTENUATION, met, f"{statement}; {_range(view)}{doubt}", remedy)


def _rests_on(view: View, last: Measured) -> str:
    """The reading that the attenuation is that of."""
    if (level := view.rests_on) is not None:
        on = instant(view.facts.at(level.hour))
        before = "" if level in view.since_restart() else ", before what was added or moved since"
        return f" at {gravity(1.0 + level.gravity / 1000.0)} by {level.instrument} on {on}{before}"
    if view.probed:
        at = f" at {gravity(1.0 + view.shown_gravity / 1000.0)} on {instant(view.facts.at(view.hour))}"
        return f"{at}, by the trend of all that was measured"
    if last.by == "refractometer":
        why = "a refractometer, which tells no level in fermenting beer"
    elif last.by == "probe":
        why = "a probe that is not heard any more"
    else:
        why = "a hydrometer in beer that was not degassed"
    return f", by {why}: {_last_heard(view)}"


def _range(view: View) -> str:
    """the yeast's range is 72% to 82%; of wort with sugar in it another, which says so."""
    facts = view.facts
    whose = "its range, counting what is in it beside malt," if facts.corrected else "the yeast's range"
    return f"{whose} is {facts.attenuation_low:.0%} to {facts.attenuation_high:.0%}"


def original(view: View) -> Checked:
    spread = points(view.facts.original_sd, 0)
    why = "unknown after the blend" if view.facts.blended else f"known only to ±{spread}"
    remedy = "A forced ferment test on this beer takes its place."
    return _checked(Gate.ORIGINAL, limit.ends_as_its_yeast_does(view), f"original gravity {why}", remedy)


def stall_behind(view: View) -> Checked:
    met = view.attenuation >= view.facts.attenuation_middle or limit.holds(view)
    statement = (
        f"it stalled once; apparent attenuation {view.attenuation_read:.0%}, and "
        f"{view.facts.attenuation_middle:.0%} or a forced ferment test is asked for"
    )
    return _checked(Gate.STALL, met, statement, "A forced ferment test tells whether it is only resting again.")


def warm(view: View) -> Checked:
    """Steady counts only while it is warm, and only since the last change to the beer."""
    span_h = view.settings.warm_h
    if limit.settled(view) is not None:
        return _checked(Gate.WARM, True, "not asked for: it stands where the forced ferment ended")
    if little_left(view):
        how = "how warm it stood is counted in what is left to ferment"
        lacks = "is known in part" if view.known_temperatures(span_h) else "is not known"
        untold = f"how warm it stood {lacks}; two readings days apart that agree settle it without"
        return _checked(Gate.WARM, True, how if view.clock.warmth_known else untold)
    known = view.known_temperatures(span_h)
    heard_h = len(known) * BIN_H
    floor = view.facts.temperature_low_c - WARM_BELOW_RANGE_C
    share = sum(celsius >= floor for celsius in known) * BIN_H / span_h
    spread = max(known, default=0.0) - min(known, default=0.0)
    since = view.hour - (view.facts.last_restart_h or 0.0)
    met = share >= WARM_SHARE and spread <= WARM_RANGE_C and since >= span_h
    least = temperature(floor, 0)
    within = temperature_range(view.facts.temperature_low_c, view.facts.temperature_high_c)
    cold = bool(known) and known[-1] < floor
    remedy = f"{'Warm it to' if cold else 'Keep it in'} its yeast's range, {within}, for {span_h:.0f} h."
    told = not any(one.temperature_known for one in view.bins[-int(span_h / BIN_H) :])
    if not known:
        statement = "no beer temperature is known"
        if (sample := next((r for r in reversed(levels(view)) if view.cold(r.sample_c)), None)) is not None:
            read = (
                f"its sample of {instant(view.facts.at(sample.hour))} was read at {temperature(sample.sample_c or 0.0)}"
            )
            statement = f"nobody said how warm it stands, and {read}: cold beer shows little"
        remedy = say_how_warm(view)
    elif since < span_h:
        what = "the pitch" if view.facts.last_restart_h is None else "the beer was changed or moved"
        statement = f"{since:.0f} h since {what}; {span_h:.0f} h are asked for"
    elif heard_h < WARM_SHARE * span_h:
        statement = f"its temperature was heard for only {heard_h:.0f} of the last {span_h:.0f} h"
        remedy = "Keep the beer's thermometer reporting until it has told of them all."
        remedy = say_how_warm(view) if told else remedy
    else:
        how = "as somebody said" if told else f"within {warmth(spread)}"
        asked = f"{WARM_SHARE:.0%}" + ("" if told else f" and at most {warmth(WARM_RANGE_C, 0)}")
        statement = f"{share:.0%} of the last {span_h:.0f} h at {least} or warmer, {how} ({asked} asked for)"
    return _checked(Gate.WARM, met, statement, remedy)


def say_how_warm(view: View) -> str:
    """What is asked of somebody without a thermometer on the beer."""
    return (
        f"Say how warm it stands, and since when: `fermwatch note {view.facts.vessel} stands-at --temperature "
        f'{typed_temperature(19)} --since "yesterday 18:00"`; or put a thermometer on it.'
    )


def lager(view: View, still_h: float) -> Checked:
    """Cold yeast is slow: two warm days at the end, or long patience at its own temperature, or a forced ferment."""
    hours = sum(celsius >= COLD_SHOWS_LITTLE_C for celsius in view.known_temperatures(14 * 24.0)) * BIN_H
    met = hours >= LAGER_WARM_H or still_h >= LAGER_PATIENCE_H or limit.ends_as_its_yeast_does(view)
    warm_c = temperature(COLD_SHOWS_LITTLE_C, 0)
    statement = (
        f"{hours:.0f} h of the last 14 days at {warm_c} or warmer ({LAGER_WARM_H:.0f} are asked for), or "
        f"shown to be still for {LAGER_PATIENCE_H:.0f} h (so far {still_h:.0f})"
    )
    remedy = f"A rest of two days at {warm_c} or warmer, or a forced ferment test."
    return _checked(Gate.LAGER, met, statement, remedy)


def reading(view: View) -> Checked:
    """The reading is compared with the trend at its own time: since then the beer may have gone on."""
    level = fresh_level(view)
    hours = heard_h(view)
    by_hand = limit.settled(view) is not None or little_left(view)
    silent = view.probed and hours < LEAST_HEARD_H and not by_hand
    unheard = f"; {silence(view, hours)}" if silent else ""
    if level is None:
        return _checked(Gate.READING, False, f"{no_level(view)}{unheard}", READ)
    statement = (
        f"hydrometer {shown_sg(level)} on {instant(view.facts.at(level.hour))}, "
        f"{points(view.apart, 1, signed=True)} from the trend then{unheard}"
    )
    if abs(view.apart) > view.settings.reading_apart:
        look = ", and look at the probe" if view.probed else ""
        remedy = f"Take another hydrometer reading, degassed{look}."
        return _checked(Gate.READING, False, statement, remedy)
    remedy = "See to the probe's battery and reception; once it is silent for 48 h, hydrometer readings alone count."
    return _checked(Gate.READING, not silent, statement, remedy, readable=False)


def agreeing(view: View, first: HandReading, second: HandReading) -> Checked:
    """Two readings by hand of which one is a slip."""
    said = [f"{one.instrument} {shown_sg(one)} on {instant(view.facts.at(one.hour))}" for one in (first, second)]
    statement = f"the readings contradict each other: {said[0]}, {said[1]}"
    remedy = "Measure once more with the hydrometer, degassed, and take back the one that is wrong."
    known = f"`fermwatch measure list {view.facts.vessel}` says how."
    return _checked(Gate.AGREEING, False, statement, f"{remedy} {known}")


def _ago(days: float) -> str:
    """A bin that has begun counts as whole here: hours would be too many."""
    return f", {days:.0f} days ago" if days >= 1.5 else ""


def hops(view: View, hopped_h: float) -> Checked:
    """Enzymes of hops free sugar: most of it within about five days."""
    days = (view.hour - hopped_h) / 24.0
    read = any(r.level_known and r.hour >= hopped_h + HOPS_DAYS * 24.0 for r in view.readings)
    tested = view.facts.diacetyl_passed_h is not None and view.facts.diacetyl_passed_h > hopped_h
    met = (days >= HOPS_DAYS and read and tested) or limit.ends_as_its_yeast_does(view)
    statement = (
        f"the last dry hops went in on {instant(view.facts.at(hopped_h))}{_ago(days)}; "
        f"hydrometer reading on or after day {HOPS_DAYS:.0f}: "
        f"{'yes' if read else 'no'}; warm-sample diacetyl test passed since: {'yes' if tested else 'no'}"
    )
    wait = f"Wait, warm, until day {HOPS_DAYS:.0f} after them; then read" if days < HOPS_DAYS else "Read"
    by_hand = "Smell" if read else f"{wait} the hydrometer and smell"
    note = f"`fermwatch note {view.facts.vessel} diacetyl-test --passed` (or --failed) notes it"
    remedy = f"{by_hand} a warmed sample: {note}; or a forced ferment."
    return _checked(Gate.HOPS, met, statement, remedy, readable=not read)


def stands_since(read: Sequence[HandReading]) -> HandReading:
    """The first of them since which none stood higher than the last by what a creep would have fallen.

    One that slipped low early agrees with what has crept down to it: those between tell.
    """
    higher = [place for place, one in enumerate(read) if one.gravity - read[-1].gravity > DIASTATIC_WITHIN]
    return read[higher[-1] + 1 if higher else 0]


def stood_a_fortnight(view: View) -> bool:
    """Whether it has stood for so long, by readings that agree."""
    read = [r for r in view.since_restart() if r.level_known and r.hour > 24.0]
    return bool(read) and read[-1].hour - stands_since(read).hour >= A_FORTNIGHT_H


def creep(view: View) -> Checked:
    """What splits dextrins may go on for weeks: two readings far apart must agree, in heavy bottles only."""
    agree = stood_a_fortnight(view)
    strong = takes_creep(view.facts.package)
    what = "a keg" if is_keg(view.facts.package) else "heavy bottles"
    statement = (
        "it may still creep: two hydrometer readings 14 days apart within 1 point: "
        f"{'yes' if agree else 'no'}; {what}: {'yes' if strong else 'no'}"
    )
    remedy = f"Two hydrometer readings at least 14 days apart, warm, within 1 point; and {what} only."
    return _checked(Gate.CREEP, agree and strong, statement, remedy)


def yeast(view: View) -> Checked:
    if view.facts.wild:
        statement = "wild yeast works for months, a point or two a week: it is never called safe here"
        remedy = "Months of equal readings, heavy bottles, and your own judgement."
        return _checked(Gate.YEAST, False, statement, remedy, readable=False)
    return _checked(
        Gate.YEAST,
        False,
        "this yeast leaves maltose: any other yeast in the bottle would ferment it",
        "A keg, kept cold; or bottles only after pasteurising.",
        readable=False,
    )


def package(view: View, risk: PackageRisk | None) -> Checked:
    choice = view.facts.package
    if choice is None:
        vessel, warm = view.facts.vessel, typed_temperature(25)
        say = f"`fermwatch batch edit {vessel} --package returnable-glass --volumes 2.4 --storage {warm}`"
        remedy = f"Say what it goes into, how lively, and where it will stand, as {say}."
        return _checked(Gate.PACKAGE, False, "no package is chosen", remedy)
    if risk is None:
        statement = f"{named(choice)}: reckoned once gravity is nearly still"
        return _checked(Gate.PACKAGE, False, statement, "Wait until it hardly falls any more.")
    checked = _checked(Gate.PACKAGE, risk.acceptable, risk.statement, risk.remedy, readable=not risk.overfull)
    return replace(checked, fits=risk.fits, against=risk.against)
