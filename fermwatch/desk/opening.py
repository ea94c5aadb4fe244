"""What to tell a brewer before the yeast goes in: of temperature, headspace, alcohol, package, forced ferment."""

from collections.abc import Iterator
from dataclasses import fields
from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import expected
from fermwatch.contracts.store import Reader
from fermwatch.desk import heard
from fermwatch.errors import InputError
from fermwatch.judgement.filling import ONCE_FINISHED, asleep, awake, judged_at, most_volumes, packed, too_full
from fermwatch.model.amounts import (
    points,
    temperature,
    temperature_range,
    typed_gravity,
    typed_temperature,
    volume,
    warmth,
)
from fermwatch.model.batch import Batch, GravityOrigin, PackageChoice
from fermwatch.model.probe import Vessel
from fermwatch.model.quantity import Quantity
from fermwatch.model.warmest import conditioning_c, warmest_of
from fermwatch.plain_data import to_plain
from fermwatch.requests.shapes import BatchEdit
from fermwatch.science.alcohol import abv_from_gravity
from fermwatch.science.carbonation import residual_interval
from fermwatch.science.packages import package_named
from fermwatch.science.solubility import TEMPERATURE_HIGH_C, TEMPERATURE_LOW_C
from fermwatch.text import in_quotes

LEAST_HEADSPACE = 0.20  # common practice: below it foam finds its way out
LEAST_HEADSPACE_HOT = 0.33
HOT_RANGE_C = 30.0  # a yeast that ferments above this may foam that much
RECENT = timedelta(hours=2)
WORT_IS_WORT = timedelta(days=1)  # before much of it has fermented
ORIGIN_SAID = {GravityOrigin.TOPPED_UP: "of topped-up wort", GravityOrigin.RECIPE: "out of a recipe"}


def warnings(batch: Batch, air_bar: float) -> Iterator[str]:
    """What is wrong or risky about it, one sentence or two each. air_bar: where it ferments."""
    yield from _headspace(batch)
    yield from _original(batch)
    yield from _alcohol(batch)
    if batch.package is not None:
        yield from _package(batch, batch.package, air_bar)


def forced_ferment(batch: Batch, now: datetime) -> str:
    """What to do with a sample of the wort at pitching: asked for every time. Later, with one of the beer."""
    if batch.yeast.diastatic or batch.yeast.maltose_negative:
        return (
            "A forced ferment shows nothing with this yeast: it ferments what others leave, or leaves what others "
            "ferment. Hydrometer readings weeks apart, warm, take its place."
        )
    sample, kept = volume(0.25, 2), typed_temperature(25.0)
    entered = f"fermwatch note {in_quotes(batch.name)} forced-ferment --gravity {typed_gravity(1.010)} --kept-at {kept}"
    if now - batch.pitched_at > WORT_IS_WORT:
        return (
            f"A forced ferment can still be made: {sample} of the beer with fresh, active yeast, at "
            f"{temperature_range(24, 27)} under loose foil (never sealed), until two readings a day apart agree. Where "
            f"it ends, this beer ends. Then: {entered}"
        )
    mixed = "" if batch.original_origin is GravityOrigin.MEASURED else " of the mixed, topped-up wort"
    return (
        f"Keep {sample}{mixed} now, with plenty of the same yeast, at {temperature_range(24, 27)} under loose foil "
        "(never sealed), until two readings a day apart agree, 2 to 5 days. Where it ends, this beer ends: the surest "
        "evidence for bottling. "
        f"Then: {entered}"
    )


def check_fits(batch: Batch) -> None:
    """InputError where the beer is more than the fermenter holds."""
    share = batch.headspace
    if share is not None and share <= 0.0:
        raise InputError(
            f"{volume(batch.volume_l)} do not fit into a fermenter of {volume(batch.fermenter_volume_l or 0.0)}.",
            hint="Are --volume and --fermenter-volume swapped?",
        )


def wort_temperature(reader: Reader, batch: Batch, now: datetime) -> Iterator[str]:
    """What to say of the wort that is about to be pitched; nothing where it was pitched long ago."""
    if abs(now - batch.pitched_at) > RECENT:
        return
    wort_c = heard.newest(reader, batch.vessel, Quantity.BEER_TEMPERATURE, now)
    low_c, high_c = batch.yeast.temperature_low_c, batch.yeast.temperature_high_c
    if wort_c is None or low_c <= wort_c <= high_c:
        return
    side, away, verb = ("below", low_c - wort_c, "warm") if wort_c < low_c else ("above", wort_c - high_c, "cool")
    yield (
        f"The wort is {temperature(wort_c)}, {warmth(away)} {side} the yeast's {temperature_range(low_c, high_c)}: "
        f"{verb} it before you pitch. The first three days make most of the flavour."
    )


def free_vessel(reader: Reader, slug: str) -> Vessel:
    """The configured fermenter of a slug, with no beer in it."""
    vessel = next((one for one in reader.vessels() if one.slug == slug), None)
    if vessel is None:
        raise InputError(f"There is no fermenter {slug!r:.60}.", hint=fermenters(reader))
    there = next((batch for batch in reader.batches() if batch.vessel == slug and batch.in_fermenter), None)
    if there is not None:
        raise InputError(
            f"{slug} still holds {there.name}.",
            hint=f"Bottled? fermwatch batch package {in_quotes(there.name)}. Given up? "
            f"fermwatch batch end {in_quotes(there.name)}.",
        )
    return vessel


def fermenters(reader: Reader) -> str:
    """Those that there are, for who named another: the configuration may name more since the watcher's last start."""
    known = ", ".join(vessel.slug for vessel in reader.vessels())
    added = "One that you add to the configuration is known once you restart the watcher."
    return f"There is: {known}. {added}" if known else f"The watcher knows of none yet: add a [[vessel]]. {added}"


def edit_of(batch: Batch, changed: Batch) -> BatchEdit:
    """What is to be asked for the batch to become the changed one; its changes are empty where nothing differs."""
    was, will_be = to_plain(batch), to_plain(changed)
    changes = {one.name: will_be[one.name] for one in fields(Batch) if was[one.name] != will_be[one.name]}
    return BatchEdit(batch.id, changes, batch.version)


def _headspace(batch: Batch) -> Iterator[str]:
    share = batch.headspace
    hot = batch.yeast.temperature_high_c > HOT_RANGE_C
    least = LEAST_HEADSPACE_HOT if hot else LEAST_HEADSPACE
    if share is None or share >= least or batch.fermenter_volume_l is None:
        return
    empty_l = batch.fermenter_volume_l - batch.volume_l
    yield (
        f"Headspace is {share:.0%} ({volume(empty_l)} of {volume(batch.fermenter_volume_l)}), "
        f"below {least:.0%}: fit a wide blow-off tube. A blocked tube on glass bursts it, and nothing rigid is "
        "sealed without a relief valve."
    )


def _original(batch: Batch) -> Iterator[str]:
    sd = batch.original_origin.sd_points
    if batch.original_origin in ORIGIN_SAID:
        yield (
            f"An original gravity {ORIGIN_SAID[batch.original_origin]} is good to ±{points(sd, 0)} only: attenuation "
            "proves little then, and bottling will ask for a forced ferment."
        )


def _alcohol(batch: Batch) -> Iterator[str]:
    alcohol = [abv_from_gravity(batch.original_sg, max(end, 0.990)) for end in expected(batch).ends_sg]
    if alcohol[0] > batch.yeast.alcohol_tolerance_abv:
        yield (
            f"It would come to {alcohol[1]:.1f}-{alcohol[0]:.1f} % alcohol by volume, and this yeast tires at "
            f"{batch.yeast.alcohol_tolerance_abv:g} %: it may stop high, and start again in the package."
        )


def _package(batch: Batch, choice: PackageChoice, air_bar: float) -> Iterator[str]:
    kind = package_named(choice.kind)
    if batch.yeast.maltose_negative and not kind.relief_valve:
        yield "This yeast leaves maltose that any other would ferment: kegs kept cold, never bottles."
    elif batch.yeast.diastatic and kind.glass and not kind.heavy:
        yield "This yeast goes on for weeks: heavy glass only, and two readings 14 days apart before it."
    conditions_c = conditioning_c(choice, batch.yeast)
    if why := asleep(choice, conditions_c, batch.yeast.temperature_low_c):
        yield f"{why[0].upper()}{why[1:]}. {awake(choice)}"
    warmest = warmest_of(choice, batch.yeast)
    middle_c = (batch.yeast.temperature_low_c + batch.yeast.temperature_high_c) / 2.0
    ends_c = min(max(middle_c, TEMPERATURE_LOW_C), TEMPERATURE_HIGH_C)
    held = residual_interval(ends_c, ends_c, atmosphere_bar=air_bar)
    most = most_volumes(choice, packed(choice, warmest, atmosphere_bar=air_bar), ONCE_FINISHED, held, conditions_c)
    if choice.volumes > (most or 0.0) and choice.volumes > held.high:
        yield (
            f"{choice.volumes:g} volumes are too much for a {kind.name} at {judged_at(warmest)}. "
            f"{too_full(choice, warmest, most, waits=False)}"
        )
