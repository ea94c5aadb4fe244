"""What to do about an alarm, knowing the set point, the phase, what was declared and what was done last: so that no two
alarms of one fermenter send a brewer two ways. Pure.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import ceil

from fermwatch.model.amounts import instant, temperature, typed_temperature, warmth
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.degree import Output
from fermwatch.model.finding import Phase
from fermwatch.model.intent import FINISHED, Band, Course, Side, band_of
from fermwatch.model.subject import About
from fermwatch.rules.effect import NO_EFFECT, Suspect, suspect
from fermwatch.rules.situation import Situation, median_of, since, slope_c_per_h

APART_C = 1.0  # of the set point: beyond that the controller is not managing
AT_THE_TOP_C = 0.5  # so near the top of its range there is nothing left to warm to
RECENT = timedelta(days=7)
LATELY = timedelta(hours=24)
LONGEST_NOTE = 80
AT_WORK_C_PER_H = 0.3  # toward its range: whoever did something sees it
BACK_SOON_H = 12.0
NOT_MANAGING = "The controller is not managing"
LOOK = "look at the door, the compressor, and where its probe sits"
LOOK_AT_HEATING = "look at the heating, and where its probe sits"
STALL_END = "Then rouse gently, and last add fresh, active yeast. Never aerate, and do not bottle."


class Direction(StrEnum):
    """Which way a remedy sends the beer's temperature."""

    COOL = "cool"
    WARM = "warm"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True)
class Remedy:
    way: Direction
    text: str


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a remedy knows. temperature_c: of the beer, None where nothing was heard for an hour."""

    batch: Batch
    now: datetime
    temperature_c: float | None
    set_point_c: float | None
    phase: Phase | None
    course: Course
    events: tuple[Event, ...] = ()
    late: bool = False  # most of the fermentation is over
    read_by_hand: bool = False  # lately enough
    by_plan: bool = False  # fermwatch itself sets or drives the controller
    suspect: Suspect | None = None  # what is on and has no effect
    pace_c_per_h: float | None = None  # of the beer, in the last hour

    @property
    def band(self) -> Band:
        return band_of(self.batch.yeast, self.course, self.now)

    @property
    def aim_c(self) -> float:
        """Where the temperature should go: a declared target, else the middle of the yeast's range."""
        if self.course.meant is not None:
            return self.course.meant.target_c
        return (self.band.low_c + self.band.high_c) / 2

    @property
    def noted(self) -> Event | None:
        """What somebody wrote down last, lately, of what was done or seen."""
        written = [
            event
            for event in self.events
            if event.text and not event.voided and timedelta() <= self.now - event.at <= LATELY
        ]
        return max(written, key=lambda event: (event.at, event.id), default=None)

    def last(self, kind: EventKind) -> Event | None:
        done = [event for event in self.events if event.kind is kind and not event.voided and event.at <= self.now]
        return max(done, key=lambda event: event.at, default=None)


def circumstances(situation: Situation) -> Circumstances:
    """What is known of a fermenter that holds a batch. ValueError where it holds none."""
    if situation.batch is None:
        raise ValueError("an empty fermenter needs no remedy")
    return Circumstances(
        batch=situation.batch,
        now=situation.now,
        temperature_c=median_of(situation.beer, situation.now, timedelta(hours=1)),
        set_point_c=situation.aim_c,
        phase=situation.phase,
        course=situation.course,
        events=situation.events,
        late=situation.late,
        read_by_hand=situation.read_by_hand,
        by_plan=situation.by_plan,
        pace_c_per_h=slope_c_per_h(since(situation.beer, situation.now, timedelta(hours=1))),
        suspect=suspect(situation, standing=situation.stands(NO_EFFECT, About.FERMENTER.of(situation.vessel))),
    )


def of_heat(known: Circumstances) -> Remedy:
    """For a beer that is too warm."""
    early = known.now - known.batch.pitched_at < timedelta(days=3)
    why = " Fusel alcohol is made in the first three days." if early else ""
    if known.phase in FINISHED:
        why = " It has finished: warmth does little to its flavour now."
    elif known.late and known.course.meant is None:
        why = f" Meant as a rest? Say so: fermwatch note {known.batch.vessel} rest --target {_typed(known)}."
    return Remedy(Direction.COOL, f"{_cooling(known)}.{why}")


def _cooling(known: Circumstances) -> str:
    aim, set_c = temperature(known.aim_c, None), known.set_point_c
    if known.course.crashed:
        aim = f"{temperature(known.aim_c, None)}, as the planned crash has it"
    if found := _found(known, Output.COOL):
        return found
    if set_c is None:
        if works := _works(known, Side.ABOVE):
            return works
        return f"Cool it toward {aim}: lower the set point, close the door, or move it"
    if set_c > known.band.high_c:
        return f"Lower {_knob(known)} to {aim}: {temperature(set_c)} is above {known.band.name} itself{_how(known)}"
    if works := _works(known, Side.ABOVE):
        return works
    if known.temperature_c is not None and known.temperature_c - set_c > APART_C:
        by = f"set point {temperature(set_c)}, {warmth(known.temperature_c - set_c)} below the beer"
        return f"{NOT_MANAGING} ({by}): {LOOK}, and move it somewhere cooler meanwhile"
    return f"Lower {_knob(known)} from {temperature(set_c)} to {aim}{_how(known)}"


def _found(known: Circumstances, output: Output) -> str:
    """What the output that should bring it back looks like, where it is on and has no effect; empty where it has."""
    found = known.suspect
    if found is None or found.output is not output:
        return ""
    return f"{found.statement[:1].upper()}{found.statement[1:]}. {found.remedy}"


def _works(known: Circumstances, side: Side) -> str:
    """Where it is on its way back within hours, nobody is sent to do more: what was done last works."""
    if known.pace_c_per_h is None or known.temperature_c is None:
        return ""
    pace_c_per_h = -known.pace_c_per_h if side is Side.ABOVE else known.pace_c_per_h
    to_go_h = known.band.beyond_c(side, known.temperature_c) / max(pace_c_per_h, 0.01)
    if pace_c_per_h < AT_WORK_C_PER_H or not 0.0 < to_go_h <= BACK_SOON_H:
        return ""
    done = known.noted
    by = "" if done is None else f"What was done works ({instant(done.at)}: {done.text[:LONGEST_NOTE].rstrip('. ')}). "
    moves = "cools" if side is Side.ABOVE else "warms"
    there = f"Leave it so, and hold it at {temperature(known.aim_c, None)} once it is back in about {ceil(to_go_h)} h"
    return f"{by}It {moves} by {warmth(pace_c_per_h)} an hour. {there}"


def _knob(known: Circumstances) -> str:
    """What a person changes: where fermwatch sets or drives the controller, a knob does not stay where it is turned."""
    return "the plan's target" if known.by_plan else "its set point"


def _how(known: Circumstances) -> str:
    return f" (fermwatch plan change {known.batch.vessel})" if known.by_plan else ""


def of_cold(known: Circumstances) -> Remedy:
    """For a beer that is too cold, and that nobody meant to be."""
    rouse = "" if known.course.crashed else " Rouse gently: cold yeast settles and gives up."
    return Remedy(Direction.WARM, f"{_warming(known)}.{rouse}")


def _warming(known: Circumstances) -> str:
    aim, set_c = temperature(known.aim_c, None), known.set_point_c
    if found := _found(known, Output.HEAT):
        return found
    if set_c is None:
        if works := _works(known, Side.BELOW):
            return works
        return f"Warm it slowly toward {aim}"
    if set_c < known.band.low_c:
        return f"Raise {_knob(known)} to {aim}: {temperature(set_c)} is below {known.band.name} itself{_how(known)}"
    if works := _works(known, Side.BELOW):
        return works
    if known.temperature_c is not None and set_c - known.temperature_c > APART_C:
        by = f"set point {temperature(set_c)}, {warmth(set_c - known.temperature_c)} above the beer"
        return f"{NOT_MANAGING} ({by}): {LOOK_AT_HEATING}, and move it somewhere warmer meanwhile"
    return f"Raise {_knob(known)} from {temperature(set_c)} to {aim}{_how(known)}"


def of_frost(temperature_c: float, set_point_c: float | None, *, by_plan: bool = False) -> Remedy:
    """For a beer that is about to freeze."""
    ends = "Frozen beer pushes out of its fermenter and can break glass."
    if set_point_c is not None and set_point_c - temperature_c > APART_C:
        return Remedy(
            Direction.WARM,
            f"{NOT_MANAGING} (set point {temperature(set_point_c)}): take the cooling off the mains at its plug, with "
            f"dry hands, and let it warm up. {ends}",
        )
    by = "" if set_point_c is None else f" from {temperature(set_point_c)}"
    knob = "the plan's target" if by_plan else "the set point"
    return Remedy(Direction.WARM, f"Raise {knob}{by} now. {ends}")


def of_a_stall(known: Circumstances) -> Remedy:
    """For a beer that stands still too high, in the order in which things should be tried (common practice)."""
    way, step = _stall_step(known)
    racked = known.last(EventKind.TRANSFER)
    left_behind = ""
    if racked is not None and known.now - racked.at < RECENT:
        left_behind = " It was racked off the yeast that it still needs: fresh yeast is the likeliest cure."
    measure = "" if known.read_by_hand else "Measure by hand first. "
    return Remedy(way, f"{measure}{step}. {STALL_END}{left_behind}")


def _stall_step(known: Circumstances) -> tuple[Direction, str]:
    meant, here_c, set_c = known.course.meant, known.temperature_c, known.set_point_c
    crashed, back = known.course.crashed, f"fermwatch note {known.batch.vessel} back-to-range"
    top_c = known.batch.yeast.temperature_high_c if meant is None or crashed else meant.target_c
    top = temperature(top_c, None)
    if here_c is not None and here_c > top_c - AT_THE_TOP_C:
        withdraw = f"Withdraw the crash: {back}. " if crashed else ""
        return Direction.NEITHER, f"{withdraw}At {temperature(here_c)} it is warm enough"
    if crashed:
        warm = "" if here_c is None else f" and warm it to {top}"
        return _toward(here_c), f"It was crashed before it had finished: end the crash ({back}){warm}"
    if meant is not None:
        bring = "" if here_c is None else f" bring it to {top} and"
        return _toward(here_c), f"Let the planned {meant.kind}{bring} hold it at {top} for two days"
    if here_c is None:
        return Direction.NEITHER, f"How warm does it stand? The yeast's range goes up to {top}"
    if set_c is not None and set_c >= top_c - AT_THE_TOP_C and set_c - here_c > APART_C:
        by = f"set point {temperature(set_c)}, beer {temperature(here_c)}"
        return Direction.WARM, f"{NOT_MANAGING} ({by}): warm it to {top} by other means"
    by = "" if set_c is None else f": its set point is {temperature(set_c)} now"
    return Direction.WARM, f"Warm it to {top}, the top of the yeast's range{by}"


def _toward(here_c: float | None) -> Direction:
    """Nobody is sent anywhere from a temperature that is not known."""
    return Direction.NEITHER if here_c is None else Direction.WARM


def of_a_late_start(known: Circumstances) -> Remedy:
    """For yeast that shows no sign of life."""
    here_c, last = known.temperature_c, "If nothing moves, pitch fresh, active yeast."
    look = "Look for signs of life and measure by hand."
    side = None if here_c is None else known.band.side(here_c)
    if here_c is None:
        return Remedy(Direction.NEITHER, f"{look} Check the temperature. {last}")
    if side is None:
        return Remedy(Direction.NEITHER, f"{look} Its temperature of {temperature(here_c)} is right. {last}")
    if side is Side.ABOVE:
        return Remedy(Direction.COOL, f"{look} {_cooling(known)}. {last}")
    return Remedy(Direction.WARM, f"{look} {_warming(known)}. {last}")


def _typed(known: Circumstances) -> str:
    """The temperature as one types it after --target."""
    return typed_temperature(known.temperature_c if known.temperature_c is not None else known.aim_c)
