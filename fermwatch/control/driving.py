"""What passes before outputs are switched: the thermostat's wish, through limits, evidence and interlock. Pure."""

from dataclasses import dataclass, field, replace
from datetime import datetime

from fermwatch.contracts.controller import Abilities, Seen, Switch
from fermwatch.control.degree import LEASE_S, Arming, drivable, may
from fermwatch.control.evidence import HeatEvidence, heated
from fermwatch.control.guard import SetPointWish, why_no_fermenter, why_outside
from fermwatch.control.interlock import Outputs, Times, permit
from fermwatch.control.thermostat import Felt, Thermostat, wish
from fermwatch.model.degree import Output
from fermwatch.model.intent import Band

UNSEEN = "The beer's temperature is not known: everything is off."
RENEW_S = 30.0  # at the latest; a device that misses one renewal has three more
NOTHING = frozenset[Output]()
NO_EFFECT = (
    "Heat had no effect for 45 min: it is off until somebody looked (is the probe in its well?) and armed it anew."
)


@dataclass(frozen=True, slots=True)
class Driving:
    """What is remembered of one device between two looks. ordered_s: the last order. armed_at: by which word."""

    outputs: Outputs
    thermostat: Thermostat = field(default_factory=Thermostat)
    evidence: HeatEvidence = field(default_factory=HeatEvidence)
    ordered_s: float | None = None
    armed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Driven:
    """switch: the order to give now; None none. changes: whether by it something goes on or off. why: why what the plan
    wants is not done, one sentence. waits: what an output that is wished waits for, as a compressor's rest."""

    state: Driving
    switch: Switch | None = None
    changes: bool = False
    why: str = ""
    waits: str = ""


@dataclass(frozen=True, slots=True)
class Sight:
    """One look. beer_c: None where nothing believable was heard lately; air_c: None without a probe there."""

    seen: Seen
    beer_c: float | None
    air_c: float | None
    now_s: float


def drive(
    before: Driving,
    wanted: SetPointWish | None,
    sight: Sight,
    arming: Arming,
    abilities: Abilities,
    allowed: Band,
    times: Times,
) -> Driven:
    """After one look at the device and the beer."""
    on, now_s = sight.seen.on, sight.now_s
    if on is None:
        return Driven(replace(before, outputs=before.outputs.lost()), why="The controller does not show its outputs.")
    state = replace(before, outputs=before.outputs.seen(on, now_s))
    if not may(arming, Switch(NOTHING, lease_of(abilities)), abilities, sight.seen):
        return Driven(Driving(state.outputs))
    if state.armed_at != arming.at:
        state = replace(state, thermostat=Thermostat(), evidence=HeatEvidence(), armed_at=arming.at)
    if wanted is None:
        return _dropped(state, on, abilities, now_s, "")
    if why := why_outside(wanted, allowed, (allowed.low_c, allowed.high_c)):
        return _dropped(state, on, abilities, now_s, why)
    if why := why_no_fermenter(sight.seen, sight.beer_c):
        return _dropped(state, on, abilities, now_s, why)
    if sight.beer_c is None:
        return _dropped(state, on, abilities, now_s, UNSEEN)
    felt = Felt(wanted.target_c, sight.beer_c, sight.air_c, on, now_s)
    return _steered(state, felt, _may_be_on(felt, sight.seen, abilities, allowed), abilities, times)


def _may_be_on(felt: Felt, seen: Seen, abilities: Abilities, allowed: Band) -> frozenset[Output]:
    """Outputs that nothing but the thermostat keeps off: none that sends the beer further out of the user's limits."""
    too = {Output.HEAT: felt.beer_c >= allowed.high_c, Output.COOL: felt.beer_c <= allowed.low_c}
    return frozenset(output for output in drivable(abilities, seen) if not too[output])


def _steered(state: Driving, felt: Felt, free: frozenset[Output], abilities: Abilities, times: Times) -> Driven:
    thermostat, wished = wish(state.thermostat, felt)
    evidence = heated(state.evidence, felt)
    state = replace(state, thermostat=thermostat, evidence=evidence)
    why = ""
    if evidence.dropped:
        free, why = free - {Output.HEAT}, NO_EFFECT if Output.HEAT in free else ""
        if Output.HEAT in felt.on:
            return _dropped(state, felt.on, abilities, felt.now_s, why)
    permitted = permit(wished & free, state.outputs, felt.now_s, times)
    waits = " ".join(permitted.why.values())
    renew_s = min(RENEW_S, lease_of(abilities) / 4.0)
    due = state.ordered_s is None or felt.now_s - state.ordered_s >= renew_s
    if permitted.on == felt.on and not (permitted.on and due):
        return Driven(state, why=why, waits=waits)
    return replace(_ordered(state, permitted.on, felt.on, abilities, felt.now_s, why), waits=waits)


def _dropped(state: Driving, on: frozenset[Output], abilities: Abilities, now_s: float, why: str) -> Driven:
    """Everything off, at once, whatever a compressor would like; nothing where it is off already."""
    return _ordered(state, NOTHING, on, abilities, now_s, why) if on else Driven(state, why=why)


def lease_of(abilities: Abilities) -> float:
    """For how long what is switched stays on unless renewed, s."""
    dead_man = abilities.dead_man
    return min(LEASE_S, dead_man.after_s) if dead_man is not None and dead_man.told else LEASE_S


def _ordered(
    state: Driving, wished: frozenset[Output], on: frozenset[Output], abilities: Abilities, now_s: float, why: str
) -> Driven:
    # What is told to go on counts as on, since a device may drop it by its dead-man before anybody looks again; what is
    # told to go off is off when it is seen so, since the order may be lost.
    told = replace(state, outputs=state.outputs.seen(wished | on, now_s), ordered_s=now_s)
    return Driven(told, Switch(wished, lease_of(abilities)), wished != on, why)
