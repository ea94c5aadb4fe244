"""What each kind of event holds, with its units in the names and its ranges: the one place where that is said.

The simulator, a batch's TOML, `note`, `add` and the watcher's door all go by it. An Event carries its data as a plain
mapping of the keys that were given.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Annotated, Any

from fermwatch.model.batch import EventKind, GravitySg, KegWay
from fermwatch.model.plan import MOST_STEPS, BadPlan, checked_steps
from fermwatch.plain_data import Malformed, Within, from_plain, to_plain

Grams = Annotated[float, Within(0.0, 100_000.0)]
Litres = Annotated[float, Within(0.0, 10_000.0)]
Celsius = Annotated[float, Within(-5.0, 100.0)]

Value = float | str | bool
STANDS_AT = "stands-at"  # the word of somebody without a thermometer on the beer
OPENED, VENTED = "opened", "vented"  # of packaged beer: one was opened cold; the gas was let out of all


@dataclass(frozen=True, slots=True)
class Nothing:
    """A kind that is said by its text alone."""


@dataclass(frozen=True, slots=True)
class AddedAmount:
    """Hops, sugar or fruit: how much of what. Without grams it is counted as little as its kind allows."""

    grams: Grams = 0.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Blended:
    volume_l: Litres = 0.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """Racked, or a part of it taken away; the volume where it is known."""

    volume_l: Litres | None = None


@dataclass(frozen=True, slots=True)
class ForcedFermentResult:
    """Where a sample that was kept warm ended, and with whose yeast."""

    gravity_sg: GravitySg
    same_yeast: bool = True
    temperature_c: Celsius | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """A rest or a ramp: to what temperature, from which; by when it should be there, and until when it lasts."""

    target_c: Celsius
    from_c: Celsius | None = None
    by: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Crash:
    """As a rest, where the cold is said."""

    target_c: Celsius | None = None
    from_c: Celsius | None = None
    by: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class PlanWords:
    """A plan as it stands from then on, by plan.py: its steps, the one that it is in and since when.

    stopped: it is given up. although: why beer that is not known to be finished may be cooled all the same.
    """

    steps: str = ""
    name: str = ""
    step: Annotated[float, Within(1.0, MOST_STEPS + 1.0)] = 1.0
    begun: datetime | None = None
    from_c: Celsius | None = None
    held: bool = False
    stopped: bool = False
    although: str = ""


@dataclass(frozen=True, slots=True)
class DiacetylTest:
    passed: bool


@dataclass(frozen=True, slots=True)
class Packaged:
    """The bottling day: into what, with how much of which sugar for how much beer, and where it will stand.

    way: of a keg; pressure_bar, gauge: as a forced one was set, at storage_c. stands_by: a probe of the bottle store.
    declared_safe: whether it was, this way; left_points, chance_over_limit: what might still ferment, as reckoned then.
    """

    package: str = ""
    volumes: Annotated[float, Within(0.0, 10.0)] | None = None
    sugar: str = ""
    sugar_g_per_l: Annotated[float, Within(0.0, 100.0)] | None = None
    volume_l: Litres | None = None
    conditioning_c: Celsius | None = None
    storage_c: Celsius | None = None
    way: KegWay | None = None
    pressure_bar: Annotated[float, Within(0.0, 20.0)] | None = None
    bottles: Annotated[float, Within(0.0, 100_000.0)] | None = None
    stands_by: str = ""
    declared_safe: bool | None = None
    left_points: Annotated[float, Within(0.0, 300.0)] | None = None
    chance_over_limit: Annotated[float, Within(0.0, 1.0)] | None = None


@dataclass(frozen=True, slots=True)
class Observation:
    """What was seen. Of STANDS_AT: how warm the beer stands, and since when. Of OPENED: whether it gushed,
    and how many days it had stood warm before it was chilled and opened.
    """

    what: str = ""
    temperature_c: Celsius | None = None
    since: datetime | None = None
    gushed: bool | None = None
    warm_days: Annotated[float, Within(0.0, 1000.0)] | None = None


SHAPES: Mapping[EventKind, type[Any]] = {
    EventKind.DRY_HOP: AddedAmount,
    EventKind.SUGAR: AddedAmount,
    EventKind.FRUIT: AddedAmount,
    EventKind.BLEND: Blended,
    EventKind.TRANSFER: Moved,
    EventKind.SPLIT: Moved,
    EventKind.FORCED_FERMENT: ForcedFermentResult,
    EventKind.REST: Planned,
    EventKind.RAMP: Planned,
    EventKind.CRASH: Crash,
    EventKind.BACK_TO_RANGE: Nothing,
    EventKind.PLAN: PlanWords,
    EventKind.PACKAGED: Packaged,
    EventKind.DIACETYL_TEST: DiacetylTest,
    EventKind.OBSERVATION: Observation,
    EventKind.NOTE: Nothing,
}


STANDS_FOR = timedelta(days=7)  # that what was said of how warm it stands holds; then it is asked again


INSTANTS = frozenset(
    field.name for shape in SHAPES.values() for field in fields(shape) if field.type == (datetime | None)
)  # the keys that hold an instant, as ISO 8601


def shows_life(kind: EventKind, data: Mapping[str, object]) -> bool:
    """Whether somebody saw the beer do something; how warm it stands is nothing that it does."""
    return kind is EventKind.OBSERVATION and data.get("what") not in {STANDS_AT, OPENED, VENTED}


def read(kind: EventKind, said: Mapping[str, object], *, tolerant: bool = False) -> dict[str, Value]:
    """The keys that were said, each as its kind needs it; an instant as ISO 8601, UTC.

    tolerant: passes over keys that the kind does not have. Raises Malformed, whose `place` is the key.
    """
    for key, value in said.items():
        if isinstance(value, datetime) and value.tzinfo is None:
            raise Malformed(key, "expected an instant with its time zone, as 2026-03-01T18:00:00Z")
    plain = to_plain(said)
    if kind is EventKind.PLAN:
        try:
            checked_steps(plain)
        except BadPlan as error:
            raise Malformed("steps", str(error)) from None
    typed = to_plain(from_plain(SHAPES[kind], plain, tolerant=tolerant))
    return {key: typed[key] for key in plain if typed.get(key) is not None}


def keys_of(kind: EventKind) -> tuple[str, ...]:
    return tuple(field.name for field in fields(SHAPES[kind]))
