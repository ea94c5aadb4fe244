"""A packaging day before it is recorded: what goes into what, by what the store knows, and what speaks against it."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from statistics import median

from fermwatch.brewing.air import air_bar
from fermwatch.brewing.bottle_store import settings_of, stood
from fermwatch.contracts.feed import FillingAnswer, FillingQuery
from fermwatch.contracts.filling import Ground
from fermwatch.contracts.store import Reader
from fermwatch.desk import adding_up, heard, warm_sample
from fermwatch.desk.filling import Filling, by_dose, filling
from fermwatch.desk.residual import Held
from fermwatch.errors import FermwatchError, InputError
from fermwatch.judgement.filling import is_keg, judged_at, too_full
from fermwatch.judgement.following import follow
from fermwatch.judgement.packaging import BEFORE_SETTLED_H
from fermwatch.judgement.settings import BIN_H
from fermwatch.model.amounts import instant, temperature, typed_temperature
from fermwatch.model.batch import Batch, Event, EventKind, PackageChoice
from fermwatch.model.believable import sustained_high
from fermwatch.model.conditioning import Stood
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement
from fermwatch.model.packaging import Packaging
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import DEFAULTS, RuleSettings
from fermwatch.requests.shapes import Happened
from fermwatch.saying import words
from fermwatch.science.carbonation import ResidualCo2, sugar_named
from fermwatch.science.packages import PackageKind, package_named
from fermwatch.science.pressure_risk import SugarDose
from fermwatch.science.solubility import TEMPERATURE_LOW_C, VOLUMES_PER_POINT

LOOK_BACK = timedelta(days=7)  # stands for the time since fermentation was active, where its end is not known
BEFORE_SETTLED = timedelta(hours=BEFORE_SETTLED_H)
FIRST = timedelta(hours=3)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody wants to fill. Each None is as usual: the batch's own volume, the dose that the carbonation needs.

    choice: None where it is the batch's own. stands_by: a probe of the bottle store, where several are configured.
    """

    choice: PackageChoice | None = None
    volume_l: float | None = None
    bottles: int | None = None
    sugar: str = "sucrose"
    dose_g_per_l: float | None = None
    headspace_share: float | None = None
    stands_by: str = ""
    held: Held = field(default_factory=Held)


@dataclass(frozen=True, slots=True)
class Day:
    """What is about to be recorded."""

    batch: Batch
    at: datetime
    filling: Filling
    origin: str  # of what the beer holds, in words
    volume_l: float
    bottles: int | None
    judged: Judgement
    events: tuple[Event, ...] = ()  # of the batch until now
    stands_by: str = ""  # a probe of the bottle store
    settings: RuleSettings = DEFAULTS
    stood: tuple[Stood, ...] = ()  # where it is to stand, as measured until now
    dose_said: bool = False

    @property
    def is_safe(self) -> bool:
        return self.judged.verdict is not None and self.judged.verdict.kind is VerdictKind.SAFE

    @property
    def is_too_full(self) -> bool:
        """Whether more of it than is accepted would exceed its limit: no sugar is recommended then, and no day."""
        return not self.filling.risk.acceptable

    @property
    def left_points(self) -> float:
        """What may still ferment, as it is kept: so that it is rounded to one number on that day and later."""
        return round(self.filling.left.expected_points, 1)

    @property
    def kind(self) -> PackageKind:
        return package_named(self.filling.choice.kind)

    @property
    def is_keg(self) -> bool:
        return is_keg(self.filling.choice)

    @property
    def verb(self) -> str:
        return "keg" if self.is_keg else "bottle"

    def packaged(self, identity: str) -> Event:
        """The event that the watcher is asked to keep."""
        choice, dose = self.filling.choice, self.filling.dose
        data: dict[str, float | str | bool] = {
            "package": choice.kind,
            "volumes": choice.volumes,
            "volume_l": round(self.volume_l, 2),
            "conditioning_c": round(self.filling.conditioning_c, 1),
            "storage_c": round(choice.storage_c, 1),
            "declared_safe": self.is_safe and not self.is_too_full,
            "left_points": self.left_points,
            "chance_over_limit": round(self.filling.risk.chance_over_limit, 4),
        }
        if self.dose_said or not self.is_too_full or dose.g_per_l == 0.0:
            data |= {"sugar": dose.sugar, "sugar_g_per_l": round(dose.g_per_l, 2)}
        if choice.way is not None:
            data["way"] = str(choice.way)
        if self.filling.set_bar is not None:
            data["pressure_bar"] = round(self.filling.set_bar, 2)
        if self.stands_by:
            data["stands_by"] = self.stands_by
        if self.bottles is not None:
            data["bottles"] = float(self.bottles)
        return Event(identity, self.at, EventKind.PACKAGED, data)

    def asked(self, identity: str) -> Happened:
        return Happened(self.batch.id, self.packaged(identity))


def planned(reader: Reader, batch: Batch, wanted: Wanted, at: datetime) -> Day:
    """The day as it is wanted and as the store knows the beer. InputError for what is missing or cannot be."""
    choice = _choice(batch, wanted)
    ground = ground_of(reader, batch, choice, at, wanted.held, wanted.stands_by)
    if wanted.dose_g_per_l is not None:
        dose = SugarDose(wanted.dose_g_per_l, sugar_named(wanted.sugar).slug)
        dosed = by_dose(batch, choice, _held(ground, choice, wanted.held), dose, wanted.headspace_share, ground.air_bar)
        ground = replace(ground_of(reader, batch, dosed, at, wanted.held, wanted.stands_by), residual=ground.residual)
        wanted = replace(wanted, choice=dosed)
    return filled(ground, wanted)


def ground_of(
    reader: Reader, batch: Batch, choice: PackageChoice, at: datetime, held: Held | None = None, stands_by: str = ""
) -> Ground:
    """All that has to be read and judged before anything of it is reckoned. InputError for no such probe."""
    held = (held or Held()).in_air(air_bar(reader.vessels()))
    judge = follow(reader, replace(batch, package=choice), at)
    judged = judge.judge_at_once(at)
    residual, origin = (None, "") if choice.forced else _residual(reader, batch, held, at, judge.settled_at())
    if residual is not None and not held.fed:
        residual, origin = _made(batch, judged, residual, origin)
    stands_by = _store_probe(reader, stands_by)
    return Ground(
        batch,
        at,
        judged,
        judge.left(),
        residual,
        origin,
        reader.events(batch.id),
        settings_of(reader, batch),
        stands_by,
        stood(reader, Packaging("", at, stands_by=stands_by), at),
        held.air_bar,
    )


def answer(reader: Reader, query: FillingQuery, at: datetime) -> FillingAnswer:
    """The ground for a screen, which reckons `filled` on it again and again."""
    batch = reader.batch(query.batch_id)
    if batch is None:
        return FillingAnswer(query, None, "This batch is not in the store any more.")
    try:
        return FillingAnswer(query, ground_of(reader, batch, query.choice, at))
    except FermwatchError as error:
        return FillingAnswer(query, None, str(error))


def filled(ground: Ground, wanted: Wanted) -> Day:
    """The day on what is known of the beer: what may be tried again and again. InputError as `planned`."""
    batch, judged = ground.batch, ground.judged
    choice = _choice(batch, wanted)
    volume_l = batch.volume_l if wanted.volume_l is None else wanted.volume_l
    adding_up.check_there_is_so_much(batch, ground.events, volume_l)
    sugar = sugar_named(wanted.sugar).slug
    done = filling(
        batch,
        choice,
        _held(ground, choice, wanted.held),
        ground.left,
        sugar=sugar,
        dose=None if wanted.dose_g_per_l is None else SugarDose(wanted.dose_g_per_l, sugar),
        now_sg=None if judged.trend is None else min(judged.trend.gravity_sg, batch.original_sg),
        headspace_share=wanted.headspace_share,
        air_bar=ground.air_bar,
    )
    return Day(
        batch,
        ground.at,
        done,
        "" if choice.forced else ground.origin,
        volume_l,
        wanted.bottles,
        judged,
        ground.events,
        ground.stands_by,
        ground.settings,
        ground.stood,
        dose_said=wanted.dose_g_per_l is not None,
    )


def _choice(batch: Batch, wanted: Wanted) -> PackageChoice:
    choice = wanted.choice or batch.package
    if choice is None:
        stands = f"--storage {typed_temperature(25)}"
        raise InputError("Into what package?", hint=f"Add --package returnable-glass --volumes 2.4 {stands}.")
    if is_keg(choice) and wanted.bottles is not None:
        raise InputError("A keg is no bottle.", hint="Leave --bottles out, or say --package returnable-glass.")
    return choice


def _held(ground: Ground, choice: PackageChoice, held: Held) -> ResidualCo2:
    """Under a cylinder it takes up what is wanted, whatever it held: nobody is asked about that."""
    if choice.forced:
        return ResidualCo2(choice.volumes, choice.volumes)
    return held.in_air(ground.air_bar).residual() if ground.residual is None else ground.residual


def _residual(
    reader: Reader, batch: Batch, held: Held, at: datetime, settled_at: datetime | None
) -> tuple[ResidualCo2 | None, str]:
    """What the beer holds: by the temperatures said, else by the probe since fermentation ended."""
    if held.warmest_c is not None:
        return held.residual(), "by the temperatures given"
    start = at - LOOK_BACK if settled_at is None else max(settled_at - BEFORE_SETTLED, batch.pitched_at)
    said = heard.said(reader, batch.vessel, Quantity.BEER_TEMPERATURE, start, at)
    warmest_c = sustained_high((then.timestamp(), value) for then, value in said)
    if warmest_c is None:
        return None, ""
    ended_c = held.ended_c
    if ended_c is None:
        first_c = median(value for then, value in said if then < said[0][0] + FIRST)
        ended_c = max(min(first_c, warmest_c), TEMPERATURE_LOW_C)
    since = "in the last week" if settled_at is None else "since it finished"
    by_probe = replace(held, warmest_c=warmest_c, ended_c=ended_c)
    return by_probe.residual(), f"by the probe: at most {temperature(warmest_c)} {since}"


def _made(batch: Batch, judged: Judgement, held: ResidualCo2, origin: str) -> tuple[ResidualCo2, str]:
    """No more at the least than it can have made: wort holds no CO2 before it ferments."""
    trend = judged.trend
    fallen = 0.0 if trend is None else max(batch.original_sg - (trend.measured_sg or trend.gravity_sg), 0.0) * 1000.0
    made = fallen * VOLUMES_PER_POINT
    if made >= held.low:
        return held, origin
    why = "no fall of its gravity is measured, so that it may hold none yet"
    return ResidualCo2(made, held.high), f"{origin}; {why}" if origin else why


def _store_probe(reader: Reader, named: str) -> str:
    """The probe of the bottle store that was named; empty where the only one, or none, is meant."""
    there = [one.probe.slug for one in reader.series() if one.probe.quantity is Quantity.STORE_TEMPERATURE]
    if named and named not in there:
        hint = f"There is: {', '.join(there)}." if there else "Configure one: a [[probe]] of store-temperature."
        raise InputError(f"{named!r:.40} is no probe of a bottle store.", hint=hint)
    return named


def against(day: Day) -> Iterator[str]:
    """What stands against it: the verdict on the beer, and this dose in this package."""
    if not day.is_safe:
        yield f"{day.batch.name} is not declared safe to {day.verb}: {verdict_said(day).rstrip('.')}."
    if day.is_too_full:
        yield too_much(day)


def odd(day: Day) -> list[str]:
    """What of it is doubtful however safe it is: amounts that do not add up, and butter."""
    amounts = list(adding_up.doubts(day.batch, day.events, day.volume_l, day.bottles, day.kind))
    butter = warm_sample.failed(day.events)
    return amounts if butter is None else [*amounts, warm_sample.in_package_words(butter)]


def to_measure_first(batch: Batch) -> str:
    """Of beer in its first hours, before anything is judged: what to look for and by when."""
    started, judged = (
        batch.pitched_at + timedelta(hours=batch.yeast.lag_max_h),
        batch.pitched_at + timedelta(hours=BIN_H),
    )
    return (
        f"it was only just pitched. Look for signs of life by {instant(started)} and note them (`fermwatch note "
        f"{batch.vessel} signs-of-life`); from {instant(judged)} on `fermwatch bottle {batch.vessel}` says when to "
        "read the hydrometer"
    )


def verdict_said(day: Day) -> str:
    verdict = day.judged.verdict
    if verdict is None:
        return f"not judged yet: {to_measure_first(day.batch)}"
    if day.is_safe and day.is_too_full:
        return f"the beer is done, but not this way: {too_much(day)}"
    return verdict.sentence or words.verdict_words(verdict.kind, keg=day.is_keg)


def too_much(day: Day) -> str:
    done = day.filling
    uneven = "" if done.choice.forced else " and uneven sugar"
    return (
        f"Too much for a {day.kind.name} at {judged_at(done.warmest)}, with what may still ferment{uneven}. "
        f"{too_full(done.choice, done.warmest, done.most, waits=done.waits)}"
    )
