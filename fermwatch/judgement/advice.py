"""The verdict as a brewer would say it: one sentence, and the one next step with its time.

Every screen and command says these; the evidence stands below them and is never contradicted by them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fermwatch.judgement.bottling import VerdictMemory, causes, unread_days
from fermwatch.judgement.facts import gravity_sg
from fermwatch.judgement.filling import is_keg
from fermwatch.judgement.forecast import Outlook
from fermwatch.judgement.fresh import fresh_level
from fermwatch.judgement.gates import (
    HOPS_DAYS,
    LAGER_WARM_H,
    TOO_EARLY,
    Checked,
    Gate,
    creep,
    first_heard,
)
from fermwatch.judgement.next_reading import Asked
from fermwatch.judgement.phase import SLOW_START_GRACE_H, STARTED_FALL, PhaseMemory, life_noted
from fermwatch.judgement.settings import BIN_H, WARM_BELOW_RANGE_C
from fermwatch.judgement.view import View
from fermwatch.model.amounts import gravity, instant, points, volume
from fermwatch.model.finding import Phase, VerdictKind

RETEST_H = 48.0
FORECAST_FROM_H = 36.0
SAMPLE_UNTIL_H = 24.0
SIGNS_UNTIL_H = 7 * 24.0  # a fermentation that can be heard or seen is about over then (common practice)
ENOUGH = volume(0.25, 2)  # of a sample, to float a hydrometer in
SAMPLE = f"Keep {ENOUGH} of the wort for a forced ferment test, read on day 4: where it ends, this beer ends. "
FORCED = (
    f"Start a forced ferment test: {ENOUGH} of the beer with plenty of fresh yeast of its kind, warm, loosely covered."
)
# Which way the top of the range lies is for the alarm to say, which knows the temperature and the set point.
ROUSE = "Rouse it gently, at the top of its yeast's range. Never aerate."
MEASURE_FIRST = f"Measure by hand first. {ROUSE}"
FERMENTING = {Phase.LAG, Phase.NOT_STARTED, Phase.ACTIVE, Phase.SLOWING, Phase.RESTARTED}
FORCED_ALONE = {Gate.ATTENUATION, Gate.ORIGINAL, Gate.STALL}  # what only a forced ferment answers, once it is still


@dataclass(frozen=True, slots=True)
class Advice:
    """sentence: the verdict. step: the one thing to do, or to wait for; hour: when, None for now or never.

    beside: what is to be done meanwhile, with a time of its own.
    """

    sentence: str
    step: str = ""
    hour: float | None = None
    beside: str = ""


def advise(
    view: View,
    said: VerdictMemory,
    phase: PhaseMemory,
    gates: Sequence[Checked],
    asked: Asked | None,
    outlook: Outlook | None,
) -> Advice:
    """What to say first."""
    told = _with_butter(view, said, _told(view, said, phase, gates, asked, outlook))
    before = {VerdictKind.NOT_YET: f"Not ready to {_verb(view)}: ", VerdictKind.CONFIRM: "Nearly ready: "}.get(
        said.kind
    )
    if before is None or view.facts.packaged_h is not None:
        return told
    return replace(told, sentence=f"{before}{told.sentence[:1].lower()}{told.sentence[1:]}")


def _with_butter(view: View, said: VerdictMemory, told: Advice) -> Advice:
    """A warmed sample that smelt of butter is told of beside whatever is first: while the beer is warm."""
    failed_h = view.facts.diacetyl_failed_h
    waiting = said.kind in {VerdictKind.NOT_YET, VerdictKind.CONFIRM} and view.facts.packaged_h is None
    if failed_h is None or not waiting or "butter" in told.sentence + told.step:
        return told
    again = instant(view.facts.at(failed_h + RETEST_H))
    butter = f"The warmed sample smelt of butter: keep it warm, and test again on {again}, before it is cold."
    return replace(told, beside=butter)


def _told(
    view: View,
    said: VerdictMemory,
    phase: PhaseMemory,
    gates: Sequence[Checked],
    asked: Asked | None,
    outlook: Outlook | None,
) -> Advice:
    unmet = [checked for checked in gates if not checked.met]
    if view.facts.packaged_h is not None:
        return Advice("Packaged: it conditions now.")
    if said.kind is VerdictKind.SAFE:
        return _safe(view, said, unmet)
    if said.kind is VerdictKind.HOLD:
        return _hold(view, said, phase, asked)
    if view.measured is None:
        return _unheard(view, asked)
    if said.kind is VerdictKind.CONFIRM:
        return _confirm(view, unmet)
    return _warmth_first(view, phase, unmet, asked) or _not_yet(view, phase, unmet, asked, outlook)


def _not_yet(
    view: View, phase: PhaseMemory, unmet: Sequence[Checked], asked: Asked | None, outlook: Outlook | None
) -> Advice:
    package_alone = bool(unmet) and all(checked.gate is Gate.PACKAGE for checked in unmet)
    if not view.speaks_of_now and not package_alone:
        return _stale(view, asked)
    if unmet and phase.phase in FERMENTING and not package_alone:
        return _fermenting(view, phase, asked, outlook)
    return _package_alone(view, unmet) if package_alone else _finished(view, unmet, asked)


def _since_then(view: View, since_h: float) -> str:
    """What it rests on that it is safe still: nobody knows more than was measured."""
    days = unread_days(since_h, view)
    read = any(reading.level_known and reading.hour > since_h for reading in view.readings)
    if read or view.probed or days < 1.0:
        return "nothing that was measured since says otherwise"
    return f"nothing was measured in the {days:.0f} days since" if days >= 1.5 else "nothing was measured since"


def _safe(view: View, said: VerdictMemory, unmet: Sequence[Checked]) -> Advice:
    since = said.safe_since_h if unmet and said.safe_since_h is not None else None
    found = "" if since is None else f", as found on {instant(view.facts.at(since))}; {_since_then(view, since)}"
    verb = _verb(view)
    sentence = f"It is finished and safe to {verb}{found}."
    failed_h = view.facts.diacetyl_failed_h
    if failed_h is not None:
        retest_h = failed_h + RETEST_H
        step = f"The warmed sample smelt of butter: give it two more warm days, and test again before you {verb}."
        return Advice(sentence, step, retest_h if retest_h > view.hour else None)
    choice = view.facts.package
    reckoned = "the sugar for the beer that is in the bucket"
    if is_keg(choice):
        reckoned = (
            "the pressure to set" if choice is not None and choice.forced else "the sugar for the beer in the keg"
        )
    return Advice(
        sentence, f"{verb.capitalize()} it: `fermwatch batch package {view.facts.vessel}` reckons {reckoned}."
    )


def _hold(view: View, said: VerdictMemory, phase: PhaseMemory, asked: Asked | None) -> Advice:
    verb = _verb(view)
    if phase.phase is Phase.STALLED:
        above = max(view.gravity - view.facts.highest_end, 0.0)
        stopped = f"it has stopped{_at(view)}, {points(above, 0)} above where its yeast should bring it"
        doubt = f" The forced ferment does not count: {view.facts.forced_doubt}" if view.facts.forced_doubt else ""
        step = MEASURE_FIRST if fresh_level(view) is None and not _read_twice(phase) else ROUSE
        if not view.known_temperatures(RETEST_H):
            step = f"How warm does it stand? {step}"
        if _read_twice(phase) and view.facts.forced is None and not doubt:
            step = f"{step} A forced ferment test tells whether its wort has more to give."
        return Advice(f"Do not {verb}: {stopped}.", f"{step}{doubt}")
    if phase.phase is Phase.RESTARTED:
        return Advice(f"Do not {verb}: it ferments again.", "Let it finish again; it is judged anew from here.")
    if view.went_beyond:
        first = causes(view)[0]
        step = "Measure with the hydrometer now, and again 14 days later: then it is known whether it creeps."
        read = ""
        if fresh_level(view) is not None:
            read = ", and the hydrometer says so too" if view.beyond_by_hand else ""
            step = _read_for(view, asked) if asked is not None else creep(view).evidence.remedy
        sentence = f"Do not {verb}: it went further than its yeast should{read}. The likeliest cause: {first}."
        return Advice(sentence, step, _later(asked, view))
    if view.probe_contradicts:
        apart = points(abs(view.probe_apart), 0)
        sentence = f"Do not {verb}: the hydrometer and the probe are {apart} apart."
        return Advice(sentence, f"{_read_for(view, asked)} Look at the probe.", _later(asked, view))
    reason = said.holds[0] if said.holds else "something is wrong"
    return Advice(f"Do not {verb} yet: {reason}.", _read(view))


def _read_twice(phase: PhaseMemory) -> bool:
    """Whether readings that agree tell the stall: another tells nothing more."""
    return phase.stall is not None and phase.stall.by_hand


def _read(view: View) -> str:
    return f"Take one degassed hydrometer reading and enter it with `fermwatch measure {view.facts.vessel} hydrometer`."


def _sample(view: View) -> str:
    """What is worth setting aside while there is wort to take it from; empty later, and where it would not count."""
    facts = view.facts
    counts = not (facts.diastatic or facts.wild or facts.maltose_negative)
    return SAMPLE if counts and facts.forced is None and view.hour <= SAMPLE_UNTIL_H else ""


def _read_for(view: View, asked: Asked | None) -> str:
    """A reading, and what each answer would mean."""
    return _read(view) if asked is None else f"{_read(view)} {asked.why}"


def _signs(view: View) -> str:
    """What tells of a start; nobody is asked again for what he has noted."""
    if view.facts.signs_of_life_h is not None:
        noted = instant(view.facts.at(view.facts.signs_of_life_h))
        return f"Something was noted on {noted}; a hydrometer reading says more."
    if view.hour > SIGNS_UNTIL_H:
        return f"{_read(view)} By now its signs of life may be over."
    return (
        f"Look for signs of life and note them (`fermwatch note {view.facts.vessel} signs-of-life`); a hydrometer "
        "reading says more."
    )


def _unheard(view: View, asked: Asked | None) -> Advice:
    seen_h = view.facts.signs_of_life_h
    if heard := first_heard(view):
        return Advice(f"{heard[:1].upper()}{heard[1:]}.", "Wait: it tells by itself.", view.hour + BIN_H)
    if seen_h is None:
        due_h = view.facts.lag_max_h
        late = view.hour >= due_h + SLOW_START_GRACE_H
        question = "Has it started? " if late else ""
        return Advice(
            "Nothing was heard since the pitch.", f"{_sample(view)}{question}{_signs(view)}", None if late else due_h
        )
    sentence = f"No gravity was measured since the pitch; something was noted on {instant(view.facts.at(seen_h))}."
    return Advice(sentence, _read_for(view, asked), _later(asked, view))


def _stale(view: View, asked: Asked | None) -> Advice:
    last = view.measured
    if last is None:
        return _unheard(view, asked)
    when = instant(view.facts.at(last.hour))
    sentence = f"Last measured {_sg(last.gravity)} by {last.by} on {when}; nothing tells what it does now."
    return Advice(sentence, _read_for(view, asked), _later(asked, view))


def _fermenting(view: View, phase: PhaseMemory, asked: Asked | None, outlook: Outlook | None) -> Advice:
    if phase.phase is Phase.NOT_STARTED:
        return Advice(
            "It has not started.", f"{_signs(view)} Check its temperature; if nothing moves, pitch fresh, active yeast."
        )
    if phase.phase is Phase.LAG:
        last, original = view.measured, view.facts.original
        if last is not None and last.gravity < original - STARTED_FALL:
            sentence = f"Last read {_sg(last.gravity)}; that it has begun to fall is not sure yet."
            return Advice(sentence, _signs(view), view.facts.lag_max_h)
        step = f"{_sample(view)}{_signs(view)}"
        if view.hour >= view.facts.lag_max_h + SLOW_START_GRACE_H and not life_noted(view):
            return Advice("Nothing shows that it has begun, and its yeast should have by now.", step)
        return Advice("It has not begun to fall yet, which is ordinary.", step, view.facts.lag_max_h)
    how = {Phase.SLOWING: "It slows down toward its end", Phase.RESTARTED: "It ferments again"}
    sentence = f"{how.get(phase.phase, 'It is still fermenting')}."
    if asked is not None:
        return Advice(sentence, _read_for(view, asked), _later(asked, view))
    if outlook is not None and outlook.done > view.hour:
        step = "It should be done then, and a hydrometer reading tells; none is needed before."
        return Advice(sentence, step, outlook.done)
    if view.hour >= FORECAST_FROM_H:
        return Advice(sentence, "No reading is needed now.")
    step = "No reading is needed yet; the first forecast comes a day and a half after the pitch."
    return Advice(sentence, step, FORECAST_FROM_H)


def _confirm(view: View, unmet: Sequence[Checked]) -> Advice:
    gates = {checked.gate for checked in unmet}
    if gates & {Gate.READING, Gate.STILL}:
        return Advice(f"It looks finished{_at(view)}; the hydrometer must say so.", _read(view))
    if Gate.PACKAGE in gates:
        return Advice("The beer is finished; whether it is safe depends on what it goes into.", _package_step(unmet))
    wait = max(view.settings.hold_h, 0.0)
    return Advice("It looks finished, and must show it a little longer.", "Wait.", view.hour + wait)


def _finished(view: View, unmet: Sequence[Checked], asked: Asked | None) -> Advice:
    """Still, or nearly so, and yet not ready: the one thing that takes longest, or that only a person can do."""
    gates = {checked.gate: checked for checked in unmet}
    at = _at(view)
    by_hand = _only_by_hand(view, gates, at)
    if by_hand is not None:
        return by_hand
    if asked is not None:
        return Advice(
            f"It looks finished{at}, and is not shown to be yet.", f"{_read(view)} {asked.why}", _later(asked, view)
        )
    if Gate.WARM in gates:
        remedy, hours = gates[Gate.WARM].evidence.remedy, view.settings.warm_h
        return Advice(f"It looks finished{at}, and must stand warm longer.", remedy, view.hour + hours)
    if not gates:
        return Advice("All is met; it must hold a little longer.", "Wait.", view.hour + view.settings.hold_h)
    return Advice(f"It looks finished{at}, and is not shown to be yet.", unmet[0].evidence.remedy or "Wait.")


def _warmth_first(view: View, phase: PhaseMemory, unmet: Sequence[Checked], asked: Asked | None) -> Advice | None:
    """Where it went far enough and warmth is what is missing, no reading settles it before that is seen to."""
    gates = {checked.gate: checked for checked in unmet}
    if phase.phase in TOO_EARLY or gates.keys() & {Gate.ATTENUATION, Gate.AGREEING, Gate.YEAST, Gate.CREEP}:
        return None
    at, then = _at(view), f" Then: {_read(view)}" if gates.keys() & {Gate.READING, Gate.STILL} else ""
    known = view.known_temperatures(view.settings.warm_h)
    if Gate.WARM in gates and not known:
        sentence = f"It looks finished{at}, and nothing tells how warm it stands."
        again = ""
        if asked is not None and asked.settles_h == asked.hour:
            when = f" on {instant(view.facts.at(asked.hour))}" if asked.hour > view.hour else ""
            again = f" Or one more degassed reading{when} that says the same may settle it without."
        return Advice(sentence, f"{gates[Gate.WARM].evidence.remedy}{again}")
    if Gate.LAGER in gates:
        sentence = f"It looks finished{at}, and must stand warm before that is shown."
        return Advice(sentence, f"{gates[Gate.LAGER].evidence.remedy}{then}", view.hour + LAGER_WARM_H)
    if Gate.WARM in gates and known[-1] < view.facts.temperature_low_c - WARM_BELOW_RANGE_C:
        sentence = f"It looks finished{at}, and is too cold for that to be shown."
        return Advice(sentence, f"{gates[Gate.WARM].evidence.remedy}{then}", view.hour + view.settings.warm_h)
    return None


def _only_by_hand(view: View, gates: Mapping[Gate, Checked], at: str) -> Advice | None:
    """What no waiting cures."""
    says = {
        Gate.AGREEING: "Two readings by hand contradict each other.",
        Gate.YEAST: "This yeast is never called safe for bottles here.",
        Gate.CREEP: f"It stands still{at} and may still creep.",
    }
    for gate, sentence in says.items():
        if gate in gates:
            return Advice(sentence, gates[gate].evidence.remedy)
    if FORCED_ALONE & gates.keys() and Gate.STILL not in gates:
        doubt = view.facts.forced_doubt
        step = f"The forced ferment does not count. {doubt}" if doubt else FORCED
        return Advice(f"It stands still{at}, and nothing shows that this is its end.", step)
    return _after_hops(view, gates[Gate.HOPS]) if Gate.HOPS in gates else None


def _after_hops(view: View, checked: Checked) -> Advice:
    failed_h, hopped_h = view.facts.diacetyl_failed_h, view.facts.last_hops_h
    if failed_h is not None:
        retest_h = failed_h + RETEST_H
        sentence = "The warmed sample smelt of butter."
        step = "Give it two more warm days, then test again."
        return Advice(sentence, step, retest_h if retest_h > view.hour else None)
    due_h = (hopped_h or 0.0) + HOPS_DAYS * 24.0
    sentence = "It was dry hopped, and hops free sugar for some days."
    return Advice(sentence, checked.evidence.remedy, due_h if due_h > view.hour else None)


def _package_alone(view: View, unmet: Sequence[Checked]) -> Advice:
    """The beer is done, and only what it should go into is in the way: the next step is to choose."""
    checked = next(checked for checked in unmet if checked.gate is Gate.PACKAGE)
    if view.facts.package is None:
        return Advice("Finished. What it goes into is not chosen yet.", _package_step(unmet))
    if checked.against:
        return Advice(f"Finished. Not in this package: {checked.against}.", _package_step(unmet))
    fits = f": {checked.fits}" if checked.fits else ""
    return Advice(f"Finished. Too much for this package{fits}.", f"Choose: {_package_step(unmet)}")


def _verb(view: View) -> str:
    return "keg" if is_keg(view.facts.package) else "bottle"


def _package_step(unmet: Sequence[Checked]) -> str:
    return next((checked.evidence.remedy for checked in unmet if checked.gate is Gate.PACKAGE), "")


def _later(asked: Asked | None, view: View) -> float | None:
    """When the reading is due, where that is still to come."""
    return asked.hour if asked is not None and asked.hour > view.hour else None


def _at(view: View) -> str:
    """` at 1.012`, where no probe's own number stands beside it already, or where that one is known to be off."""
    return "" if view.probed and not view.probe_off else f" at {_sg(view.gravity)}"


def _sg(gravity_points: float) -> str:
    return gravity(gravity_sg(gravity_points))
