"""What is known of a batch at an hour: its yeast's figures corrected for what else went in, and what was done to it."""

import contextlib
import math
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import bounded, expected_after, number_of
from fermwatch.judgement.ends import End, OwnEnd, expected_ends, mean_of, own_words
from fermwatch.judgement.forced import ForcedFerment, Result, Wort, counted
from fermwatch.model.batch import BRINGS_EXTRACT, Batch, Event, EventKind, GravityOrigin, PackageChoice
from fermwatch.model.believable import PLAUSIBLE
from fermwatch.model.event_data import STANDS_AT, STANDS_FOR, shows_life
from fermwatch.model.intent import CRASH_C, DECLARED
from fermwatch.model.quantity import Quantity
from fermwatch.model.warmest import CONDITIONING_C, CONDITIONS, Warmest, conditioning_c, warmest_of
from fermwatch.science.solubility import ATMOSPHERE_BAR

Data = Mapping[str, float | str | bool]

WILD_WORDS = ("wild", "brett", "mixed", "sour")

RESTARTING = {*BRINGS_EXTRACT, EventKind.TRANSFER, EventKind.DRY_HOP}
FORCED_VOIDED_BY = {*BRINGS_EXTRACT, EventKind.DRY_HOP}


@dataclass(frozen=True, slots=True)
class Happening:
    """An event, with its time in hours since pitch; told_h: when it was said, where it was so before."""

    id: str
    hour: float
    kind: EventKind
    data: Data
    told_h: float


@dataclass(frozen=True, slots=True)
class ToldTemperature:
    """How warm somebody said that the beer stands, hours since the pitch: for some days, then it is asked again."""

    since_h: float
    until_h: float
    celsius: float


def happening_of(event: Event, pitched_at: datetime) -> Happening:
    """Of how warm it stands the hour is since when: whoever says it late was not there later."""
    told_h = _hour(event.at, pitched_at)
    since_h = told_h
    if event.data.get("what") == STANDS_AT:
        with contextlib.suppress(ValueError, TypeError):  # no instant, or one without a zone: since it was said
            since_h = min(_hour(datetime.fromisoformat(str(event.data.get("since"))), pitched_at), told_h)
    return Happening(event.id, since_h, event.kind, event.data, told_h)


def _hour(at: datetime, pitched_at: datetime) -> float:
    return max((at - pitched_at) / timedelta(hours=1), 0.0)


@dataclass(frozen=True, slots=True)
class Facts:
    """original: points, with what was added since. attenuation_low, attenuation_high: 0..1, and whether they are
    corrected for what else is in it.

    conditioning_c, warmest: of the package, if there is one. forced_doubt: why the last forced ferment that was said
    counts for nothing. own: the brewer's earlier batches that its end is expected by; ends: what is expected, as far as
    no forced ferment tells.
    """

    original: float
    original_sd: float
    attenuation_low: float
    attenuation_high: float
    temperature_low_c: float
    temperature_high_c: float
    lag_max_h: float
    alcohol_tolerance_abv: float
    diastatic: bool
    wild: bool
    bottom_fermenting: bool
    maltose_negative: bool
    package: PackageChoice | None
    conditioning_c: float
    warmest: Warmest
    pitched_at: datetime
    vessel: str
    volume_l: float
    corrected: bool = False
    original_measured: bool = True
    sugars_declared: bool = False
    signs_of_life_h: float | None = None
    diacetyl_failed_h: float | None = None
    stood: tuple[ToldTemperature, ...] = ()
    forced: ForcedFerment | None = None
    forced_doubt: str = ""
    blended: bool = False
    last_restart_h: float | None = None
    last_addition_h: float | None = None
    last_hops_h: float | None = None
    diacetyl_passed_h: float | None = None
    packaged_h: float | None = None
    crash_h: float | None = None
    own: tuple[OwnEnd, ...] = ()
    ends: tuple[End, ...] = ()
    air_bar: float = ATMOSPHERE_BAR

    def at(self, hour: float) -> datetime:
        """The instant of an hour since the pitch."""
        return self.pitched_at + timedelta(seconds=round(hour * 3600.0))

    @property
    def attenuation_middle(self) -> float:
        return (self.attenuation_low + self.attenuation_high) / 2.0

    @property
    def highest_end(self) -> float:
        """Points at which it ends at the latest: by a forced ferment, else by the least attenuation."""
        return self.forced.gravity if self.forced is not None else self.original * (1.0 - self.attenuation_low)

    @property
    def expected_end(self) -> float:
        """Points: by a forced ferment, else by its yeast and the brewer's own earlier batches."""
        if self.forced is not None:
            return self.forced.gravity
        return self.original * (1.0 - mean_of(self.ends))

    @property
    def rests_on(self) -> str:
        """The own batches that its end is expected by, in words; a forced ferment of its own wort says more."""
        return own_words(self.own) if self.forced is None else ""

    @property
    def lowest_end(self) -> float:
        return self.original * (1.0 - self.attenuation_high)

    def attenuation(self, gravity: float) -> float:
        return (self.original - gravity) / max(self.original, 1.0)


def facts_of(
    batch: Batch, happenings: Iterable[Happening], own: Sequence[OwnEnd] = (), air_bar: float = ATMOSPHERE_BAR
) -> Facts:
    """What holds after these happenings, given in time order. own: earlier batches of this yeast, the newest first.
    air_bar: the pressure of the air where it ferments.
    """
    done = list(happenings)
    yeast = batch.yeast
    wild = any(word in f"{yeast.kind} {yeast.name}".lower() for word in WILD_WORDS)
    expectation = expected_after(batch, done)
    original, low, high = expectation.original, expectation.low, expectation.high
    forced, forced_doubt = _forced(done, original, low, high)
    if yeast.diastatic or yeast.maltose_negative or wild:
        forced, forced_doubt, own = None, "", ()
    hops_h = _last(done, {EventKind.DRY_HOP})
    alike = tuple(one for one in own if one.hopped == (hops_h is not None))
    return Facts(
        original=original,
        original_sd=batch.original_origin.sd_points,
        attenuation_low=low,
        attenuation_high=high,
        corrected=expectation.corrected,
        temperature_low_c=yeast.temperature_low_c,
        temperature_high_c=yeast.temperature_high_c,
        lag_max_h=yeast.lag_max_h,
        alcohol_tolerance_abv=yeast.alcohol_tolerance_abv,
        diastatic=yeast.diastatic,
        wild=wild,
        bottom_fermenting=yeast.bottom_fermenting,
        maltose_negative=yeast.maltose_negative,
        package=batch.package,
        pitched_at=batch.pitched_at,
        vessel=batch.vessel,
        volume_l=bounded(batch.volume_l, 0.1, 1e5, else_=0.1),
        original_measured=batch.original_origin is GravityOrigin.MEASURED,
        sugars_declared=bool(batch.extract_adjuncts_g_per_l) or any(h.kind in BRINGS_EXTRACT for h in done),
        signs_of_life_h=_last((h for h in done if shows_life(h.kind, h.data)), {EventKind.OBSERVATION}),
        stood=tuple(_stood(done)),
        diacetyl_failed_h=_last_test(done, passed=False),
        conditioning_c=CONDITIONING_C if batch.package is None else conditioning_c(batch.package, yeast),
        warmest=Warmest(CONDITIONING_C, CONDITIONS) if batch.package is None else warmest_of(batch.package, yeast),
        forced=forced,
        forced_doubt=forced_doubt,
        blended=any(h.kind is EventKind.BLEND for h in done),
        last_restart_h=_last(done, RESTARTING),
        last_addition_h=_last(done, BRINGS_EXTRACT),
        last_hops_h=hops_h,
        diacetyl_passed_h=_last_test(done, passed=True),
        packaged_h=_last(done, {EventKind.PACKAGED}),
        crash_h=_last(done, {EventKind.CRASH}),
        own=alike,
        ends=expected_ends(low, high, alike),
        air_bar=air_bar,
    )


def _forced(done: list[Happening], original: float, low: float, high: float) -> tuple[ForcedFerment | None, str]:
    """What forced ferments show, and why the last shows nothing; hops, fruit, sugar or a blend void those before."""
    since_h, results = 0.0, list[Result]()
    for happening in done:
        if happening.kind in FORCED_VOIDED_BY:
            since_h, results = happening.hour, []
        elif happening.kind is EventKind.FORCED_FERMENT:
            gravity_sg = number_of(happening, "gravity_sg", math.nan, *PLAUSIBLE[Quantity.GRAVITY])
            kept_c = number_of(happening, "temperature_c", math.nan, -5.0, 100.0)
            same_yeast = happening.data.get("same_yeast", True) is True
            if math.isfinite(gravity_sg):
                kept = kept_c if math.isfinite(kept_c) else None
                results.append(Result(happening.hour, (gravity_sg - 1.0) * 1000.0, same_yeast, kept))
    return counted(results, Wort(original, low, high, since_h))


def _stood(done: list[Happening]) -> Iterator[ToldTemperature]:
    """How warm somebody said that it stands, the last said last; what he declared of its temperature says it too."""
    for happening in sorted(done, key=lambda one: one.told_h):
        if happening.data.get("what") == STANDS_AT:
            celsius = number_of(happening, "temperature_c", math.nan, -5.0, 100.0)
        elif happening.kind in DECLARED:
            celsius = number_of(
                happening, "target_c", CRASH_C if happening.kind is EventKind.CRASH else math.nan, -5.0, 100.0
            )
        else:
            continue
        if math.isfinite(celsius):
            until_h = happening.told_h + STANDS_FOR / timedelta(hours=1)
            over_h = (h.hour for h in done if h.kind is EventKind.BACK_TO_RANGE and h.hour >= happening.hour)
            yield ToldTemperature(happening.hour, min([until_h, *over_h]), celsius)


def _last_test(done: list[Happening], *, passed: bool) -> float | None:
    """When the last warm-sample diacetyl test was made, if it came out so."""
    tests = [h for h in done if h.kind is EventKind.DIACETYL_TEST]
    return tests[-1].hour if tests and tests[-1].data.get("passed") is passed else None


def gravity_sg(gravity_points: float) -> float:
    """A gravity that was reckoned, within what an instrument could read: beyond, what was said contradicts itself."""
    low_sg, high_sg = PLAUSIBLE[Quantity.GRAVITY]
    return bounded(1.0 + gravity_points / 1000.0, low_sg, high_sg, else_=high_sg)


def _last(done: Iterable[Happening], kinds: Container[EventKind]) -> float | None:
    hours = [happening.hour for happening in done if happening.kind in kinds]
    return hours[-1] if hours else None
