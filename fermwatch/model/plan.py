"""A plan of temperatures: steps one after another, each with what ends it.

A plan is written as people say it, "18C until 60 %; 20C at 2C/day until steady and tested; 2C for 2 days", and stored
in these words.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from fermwatch.model.amounts import temperature, typed_temperature, warmth
from fermwatch.model.batch import Event, EventKind

MOST_STEPS = 20
COLDEST_C, WARMEST_C = -2.0, 40.0
SLOWEST_C_PER_DAY, FASTEST_C_PER_DAY = 0.1, 20.0
LONGEST_DAYS = 120.0
LONGEST = timedelta(days=366)  # that a step may last

_TEMPERATURE = re.compile(r"(-?\d+(?:\.\d+)?) ?°?([CF])\b", re.IGNORECASE)
_PACE = re.compile(r"at (\d+(?:\.\d+)?) ?°?([CF]) ?(?:/ ?|a )day\b", re.IGNORECASE)
_SHARE = re.compile(r"(\d+(?:\.\d+)?) ?%(?: of the way)?")
_SPAN = re.compile(r"(\d+(?:\.\d+)?) ?(?:(d|days?)|(h|hours?))", re.IGNORECASE)
_JOINED = re.compile(r",| and ", re.IGNORECASE)
_OPENING = re.compile(r"^(?:until|for)\b", re.IGNORECASE)
_WORDS = {"steady": "steady", "tested": "tested", "told": "told"}

_EXAMPLE = (
    f"{typed_temperature(18.0)} until 60%; {typed_temperature(20.0)} until steady and tested; "
    f"{typed_temperature(2.0)} for 2 days"
)
HOW = (
    f'Each step is a temperature, and what ends it: "{_EXAMPLE}". A ramp: "{typed_temperature(16.0)} at '
    f'{warmth(2.0, None)}/day for 3 days". What ends a step: a share of the way (60%), steady, tested (the warm-sample '
    "test passed), told (you say so: fermwatch plan skip), or days; all that are named must be met."
)


class BadPlan(ValueError):
    """What cannot be meant as a plan, in one sentence that names the step."""


@dataclass(frozen=True, slots=True)
class Until:
    """What ends a step: all of it. way: apparent attenuation as a share of the one expected. days: at its target.

    steady: gravity, as the trend says. tested: a warm-sample test passed. told: somebody said so.
    """

    way: float | None = None
    steady: bool = False
    tested: bool = False
    told: bool = False
    days: float | None = None


@dataclass(frozen=True, slots=True)
class PlanStep:
    """c_per_day: how fast the set point moves there from the step before; None: at once."""

    target_c: float
    until: Until
    c_per_day: float | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    steps: tuple[PlanStep, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class PlanProgress:
    """A plan under way: which step it is in, since when, and from what temperature that began.

    id: of the event that says so. held: it stays in its step until somebody lets it go on. although: why
    beer may be cooled that is not known to be finished, in somebody's words.
    """

    id: str
    plan: Plan
    number: int
    begun_at: datetime
    from_c: float | None = None
    held: bool = False
    although: str = ""

    @property
    def step(self) -> PlanStep | None:
        """None where all steps are done."""
        return self.plan.steps[self.number] if self.number < len(self.plan.steps) else None

    @property
    def there_at(self) -> datetime:
        """When the set point has come to the target of this step."""
        step = self.step
        if step is None or step.c_per_day is None or self.from_c is None:
            return self.begun_at
        return self.begun_at + timedelta(days=abs(step.target_c - self.from_c) / step.c_per_day)

    def set_point_c(self, now: datetime) -> float | None:
        """Where the beer should be now, along a ramp; None after the last step."""
        step = self.step
        if step is None:
            return None
        takes = self.there_at - self.begun_at
        if self.from_c is None or not takes or now >= self.there_at:
            return step.target_c
        share = max((now - self.begun_at) / takes, 0.0)
        return self.from_c + (step.target_c - self.from_c) * share

    def data(self) -> dict[str, float | str | bool]:
        """As the event holds it that says so."""
        found: dict[str, float | str | bool] = {
            "steps": text_of(self.plan),
            "step": float(self.number + 1),
            "begun": self.begun_at.isoformat(),
        }
        if self.plan.name:
            found["name"] = self.plan.name
        if self.from_c is not None:
            found["from_c"] = round(self.from_c, 2)
        if self.held:
            found["held"] = True
        if self.although:
            found["although"] = self.although
        return found


def progress_of(events: Iterable[Event], now: datetime) -> PlanProgress | None:
    """What is in force of all that was planned: the last word counts. None where nothing is, or what was is given up.

    Packaging ends it.
    """
    said = [one for one in events if not one.voided and one.at <= now]
    last = max((one for one in said if one.kind is EventKind.PLAN), key=lambda one: (one.at, one.id), default=None)
    if last is None or any(one.kind is EventKind.PACKAGED for one in said):
        return None
    return progress_by(last)


def progress_by(event: Event) -> PlanProgress | None:
    """What one event says; None where it gives the plan up, or cannot be read."""
    data = event.data
    if data.get("stopped"):
        return None
    try:
        plan = plan_of(str(data.get("steps", "")), str(data.get("name", "")))
    except BadPlan:
        return None
    begun, step, from_c = data.get("begun"), data.get("step", 1.0), data.get("from_c")
    return PlanProgress(
        event.id,
        plan,
        max(int(step) - 1, 0) if isinstance(step, int | float) else 0,
        _begun(begun, event.at),
        float(from_c) if isinstance(from_c, int | float) else None,
        held=bool(data.get("held")),
        although=str(data.get("although", "")),
    )


def _begun(said: object, at: datetime) -> datetime:
    """No step begins after the event that tells of it, nor so long before that a calendar ends."""
    if not isinstance(said, str):
        return at
    return min(max(datetime.fromisoformat(said).astimezone(UTC), at - LONGEST), at)


def plan_of(text: str, name: str = "") -> Plan:
    """The plan that somebody wrote. Raises BadPlan."""
    written = [part.strip() for part in text.split(";")]
    written = written[:-1] if written and not written[-1] else written
    if not written:
        raise BadPlan("a plan has at least one step")
    if len(written) > MOST_STEPS:
        raise BadPlan(f"a plan has at most {MOST_STEPS} steps, not {len(written)}")
    return Plan(tuple(_step(part, number) for number, part in enumerate(written, 1)), name)


def _step(text: str, number: int) -> PlanStep:
    place = f"step {number}"
    found = _TEMPERATURE.match(text)
    if found is None:
        raise BadPlan(f"{place}: {text[:40]!r} does not begin with a temperature, as {typed_temperature(18.0)}")
    target_c = _celsius(found)
    if not COLDEST_C <= target_c <= WARMEST_C:
        raise BadPlan(f"{place}: {temperature(target_c, None)} is no temperature of beer")
    rest, c_per_day = text[found.end() :].strip(), None
    if pace := _PACE.match(rest):
        c_per_day = round(float(pace[1]) / (1.8 if pace[2].upper() == "F" else 1.0), 2)
        if not SLOWEST_C_PER_DAY <= c_per_day <= FASTEST_C_PER_DAY:
            least, most = warmth(SLOWEST_C_PER_DAY), warmth(FASTEST_C_PER_DAY)
            raise BadPlan(f"{place}: a ramp goes by at least {least} and at most {most} a day")
        rest = rest[pace.end() :].strip()
    return PlanStep(round(target_c, 2), _until(rest, place), c_per_day)


def _until(text: str, place: str) -> Until:
    found = Until()
    for part in filter(None, map(str.strip, _JOINED.split(text))):
        said = _OPENING.sub("", part).strip()
        if said.casefold() in _WORDS:
            found = replace(found, **{_WORDS[said.casefold()]: True})
        elif share := _SHARE.fullmatch(said):
            if not 0.0 < float(share[1]) <= 100.0:
                raise BadPlan(f"{place}: {said[:20]} is no share of the way")
            found = replace(found, way=float(share[1]) / 100.0)
        elif span := _SPAN.fullmatch(said):
            days = float(span[1]) / (24.0 if span[3] else 1.0)
            if not 0.0 < days <= LONGEST_DAYS:
                raise BadPlan(f"{place}: at most {LONGEST_DAYS:g} days")
            found = replace(found, days=days)
        else:
            raise BadPlan(f"{place}: {said[:40]!r} ends no step")
    return found if found != Until() else Until(told=True)


def _celsius(found: re.Match[str]) -> float:
    value = float(found[1])
    return (value - 32.0) / 1.8 if found[2].upper() == "F" else value


def text_of(plan: Plan) -> str:
    """The plan in the words that `plan_of` reads."""
    return "; ".join(_written(step) for step in plan.steps)


def _written(step: PlanStep) -> str:
    pace = "" if step.c_per_day is None else f" at {step.c_per_day:g}C/day"
    return f"{step.target_c:g}C{pace} {until_text(step.until)}"


def until_text(until: Until) -> str:
    """until 60 % and steady; for 3 days and until tested."""
    words = [f"{until.way * 100:g}%"] if until.way is not None else []
    words += [name for name in _WORDS if getattr(until, name)]
    said = [f"until {' and '.join(words)}"] if words else []
    if until.days is not None:
        said.append(f"for {_days(until.days)}")
    return " and ".join(said)


def _days(days: float) -> str:
    if days < 1.0 or (days * 24) % 24:
        return f"{days * 24:.6g} hours"
    return f"{days:g} day{'' if days == 1 else 's'}"


def checked_steps(data: Mapping[str, object]) -> None:
    """Raises BadPlan where an event's steps are none, or it says to be in a step that there is not."""
    if data.get("stopped"):
        return
    plan = plan_of(str(data.get("steps", "")))
    step = data.get("step", 1.0)
    if isinstance(step, int | float) and int(step) > len(plan.steps) + 1:
        raise BadPlan(f"there is no step {step:g} of {len(plan.steps)}")
