"""The temperature that is meant: the yeast's range, or what a person declared in its place. What "outside" is, is said
here, once: rules, screens and commands ask the same functions.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Alarm, Phase
from fermwatch.model.subject import About
from fermwatch.model.yeast import Yeast

TOLERANCE_C = 1.0  # about the target of a rest (common practice)
REST_THERE_WITHIN = timedelta(hours=48)  # 20 L warm by some 2 °C a day (common practice)
UNDER_WAY_C_PER_DAY = 1.0  # less than half of that is no way to a rest
CRASH_C = 2.0
COLD_C = 5.0  # at which a crash begins (common practice)
CRASH_LOW_C, CRASH_HIGH_C = -0.5, 5.0  # where a crash goes (common practice)
REST_ABOVE_C, REST_AT_MOST_C = 6.0, 22.0  # a rest above the yeast's range, and at all (common practice)
HEAT_RULE, COLD_RULE = "temperature-high", "temperature-low"
FINISHED = {Phase.TERMINAL, Phase.CONDITIONING, Phase.PACKAGED}
DECLARED = {EventKind.REST, EventKind.RAMP, EventKind.CRASH}


class Side(StrEnum):
    ABOVE = "above"
    BELOW = "below"


ON_ITS_WAY = "on its way to the planned"  # why a rule keeps quiet of a beer that is not there yet, and of its kind
RULES_OF_SIDES = {Side.ABOVE: HEAT_RULE, Side.BELOW: COLD_RULE}


@dataclass(frozen=True, slots=True)
class Band:
    """Where the beer should be, °C, both ends included. `name` stands in a sentence: the yeast's range."""

    low_c: float
    high_c: float
    name: str = "the yeast's range"

    def beyond_c(self, side: Side, temperature_c: float) -> float:
        """How far outside on this side; negative within."""
        return temperature_c - self.high_c if side is Side.ABOVE else self.low_c - temperature_c

    def side(self, temperature_c: float) -> Side | None:
        """On which side it is outside, to the tenth that is shown: 21.04 °C is 21.0, and not above 21."""
        shown_c = round(temperature_c, 1)
        return Side.ABOVE if shown_c > self.high_c else Side.BELOW if shown_c < self.low_c else None


@dataclass(frozen=True, slots=True)
class Meant:
    """A rest, ramp or crash that somebody declared, by the event `id`.

    there_by: until when the beer may still be under way to the target. until: when it is over by itself; None where
    it lasts until it is ended. from_c: where the beer was, where that is known. before_c: the target of what was meant
    until then, as of a rest before a ramp: the beer may come from there.
    """

    id: str
    kind: EventKind
    begun_at: datetime
    target_c: float
    there_by: datetime
    until: datetime | None = None
    from_c: float | None = None
    before_c: float | None = None

    def band(self, yeast: Yeast, now: datetime) -> Band:
        """Where the beer may be meanwhile. A crash says how cold it may get, and asks for no cold.

        On its way it may be anywhere from where it was meant to be until then: never where it only happens to be, or
        what runs hot would fall silent by declaring something.
        """
        name = f"the planned {self.kind}"
        at_target = (self.target_c - TOLERANCE_C, self.target_c + TOLERANCE_C)
        edges = [*at_target] if now >= self.there_by else [*at_target, *self._meant_before(yeast)]
        if self.kind is EventKind.CRASH:
            return Band(at_target[0], max(*edges, yeast.temperature_high_c), name)
        under_way = (min(edges), max(edges)) != at_target
        return Band(min(edges), max(edges), f"the way to {name}" if under_way else name)

    def _meant_before(self, yeast: Yeast) -> list[float]:
        before_c = self.before_c
        meant = [] if before_c is None else [before_c - TOLERANCE_C, before_c + TOLERANCE_C]
        return [yeast.temperature_low_c, yeast.temperature_high_c, *meant]


@dataclass(frozen=True, slots=True)
class Course:
    """What was declared of the temperature: what is in force now, else what was last in force and when it ended."""

    meant: Meant | None = None
    over: Meant | None = None
    over_at: datetime | None = None

    @property
    def crashed(self) -> bool:
        return self.meant is not None and self.meant.kind is EventKind.CRASH

    @property
    def cold(self) -> bool:
        """Whether it is meant to be as cold as a crash, however it got there."""
        return self.meant is not None and (self.crashed or self.meant.target_c <= COLD_C)


NOTHING_DECLARED = Course()


def course_of(events: Iterable[Event], now: datetime, warmed_at: datetime | None = None) -> Course:
    """What holds of all that was declared. The last word counts; packaging ends it.

    warmed_at: when the beer last came back into its range from below, which ends a crash.
    """
    last: Meant | None = None
    ended_at: datetime | None = None
    for event in sorted(events, key=lambda one: (one.at, one.id)):
        if event.voided or event.at > now:
            continue
        if event.kind in DECLARED:
            declared = meant_by(event)
            if declared is not None:
                last, ended_at = replace(declared, before_c=_just_meant(last, ended_at, event.at)), None
        elif event.kind in {EventKind.BACK_TO_RANGE, EventKind.PACKAGED} and last is not None and ended_at is None:
            ended_at = event.at
    if last is None:
        return NOTHING_DECLARED
    ends = [ended_at, last.until if last.until is not None and last.until <= now else None]
    if last.kind is EventKind.CRASH and warmed_at is not None and warmed_at > last.begun_at:
        ends.append(warmed_at)
    over_at = min((end for end in ends if end is not None), default=None)
    return Course(meant=last) if over_at is None else Course(over=last, over_at=over_at)


def _just_meant(last: Meant | None, ended_at: datetime | None, at: datetime) -> float | None:
    """The target of what was in force until `at`, or ended so shortly before that the beer may still be there."""
    if last is None:
        return None
    ends = [end for end in (ended_at, last.until) if end is not None]
    return last.target_c if not ends or at - min(ends) < REST_THERE_WITHIN else None


def meant_by(event: Event) -> Meant | None:
    """The rest, ramp or crash that an event declares; None where it is none, or says no target."""
    target_c = _number(event.data, "target_c")
    if event.kind is EventKind.CRASH and target_c is None:
        target_c = CRASH_C
    if event.kind not in DECLARED or target_c is None:
        return None
    until = _instant(event.data, "until")
    by = _instant(event.data, "by") or (until if event.kind is EventKind.RAMP else None)
    there_by = by or event.at + REST_THERE_WITHIN
    return Meant(event.id, event.kind, event.at, target_c, there_by, until, _number(event.data, "from_c"))


def warmed_at(alarms: Iterable[Alarm], vessel: str) -> datetime | None:
    """When the beer last came back into its range from below: when the alarm that tells of cold was over."""
    low = next((one for one in alarms if (one.rule, one.subject) == (COLD_RULE, About.FERMENTER.of(vessel))), None)
    return None if low is None else low.cleared_at


def warmest_rest_c(yeast: Yeast) -> float:
    """A yeast that likes more than that, as of a hot farmhouse beer, is not made to rest below its own range."""
    return max(yeast.temperature_high_c, min(yeast.temperature_high_c + REST_ABOVE_C, REST_AT_MOST_C))


def band_of(yeast: Yeast, course: Course, now: datetime) -> Band:
    """Where the beer should be now."""
    if course.meant is not None:
        return course.meant.band(yeast, now)
    return Band(yeast.temperature_low_c, yeast.temperature_high_c)


def outside(temperature_c: float, band: Band, phase: Phase | None) -> Side | None:
    """On which side the beer is where it should not be; packaged beer has left its fermenter."""
    side = band.side(temperature_c)
    return None if side is None or phase is Phase.PACKAGED or harmless(side, phase) else side


def harmless(side: Side, phase: Phase | None) -> bool:
    """Cold does no harm to what has finished."""
    return side is Side.BELOW and phase in FINISHED


def _number(data: Mapping[str, float | str | bool], key: str) -> float | None:
    value = data.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def _instant(data: Mapping[str, float | str | bool], key: str) -> datetime | None:
    value = data.get(key)
    if not isinstance(value, str):
        return None
    try:
        at = datetime.fromisoformat(value)
        return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except (ValueError, OverflowError):
        return None
