"""A batch as it is described on the command line: options to the fields of a Batch. Opening and editing share them."""

import argparse
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from fermwatch.brewing.generic_yeasts import generic_yeast
from fermwatch.commands import amounts
from fermwatch.commands.measurements.typed import (
    SCALES_C,
    Typed,
    by_hydrometer,
    wort_by_refractometer,
)
from fermwatch.commands.moments import instant
from fermwatch.commands.parser import AsTyped, typed_name
from fermwatch.commands.site import Site
from fermwatch.desk.choosing import FORCED_KEG_C
from fermwatch.desk.correcting import Corrected
from fermwatch.errors import InputError
from fermwatch.model.amounts import gravity
from fermwatch.model.batch import STANDS_AT_C, GravityOrigin, Instrument, KegWay, PackageChoice
from fermwatch.model.rule_settings import wrong_setting
from fermwatch.model.yeast import Yeast
from fermwatch.science.carbonation import SUGARS
from fermwatch.science.extract import sg_to_plato
from fermwatch.science.packages import PackageKind, package_named, pressure_limit_bar_gauge, weakest

DEFAULT_VOLUMES = 2.4
LIKE_A_GRAVITY = (1.005, 1.2)
COLDEST_C = -2.0  # colder, beer freezes
ADJUNCTS = (*SUGARS, "lactose", "maltodextrin")  # sugars with a name; the last two hardly ferment


def wort_arguments(parser: argparse.ArgumentParser) -> None:
    """The wort: its gravity and how that is known."""
    wort = parser.add_argument_group("wort")
    wort.add_argument("--og", metavar="GRAVITY", help="original gravity: 1.052, 12.9P, or a refractometer's 13.4Bx")
    wort.add_argument("--og-by", choices=[str(one) for one in Instrument], help="what it was read with (hydrometer)")
    wort.add_argument("--origin", choices=[str(one) for one in GravityOrigin], help="how it is known (measured)")
    wort.add_argument("--sample", metavar="TEMPERATURE", help="of the sample, as 23C: the reading is corrected for it")
    wort.add_argument("--scale", default="20C", metavar="|".join(SCALES_C), help="the hydrometer's own (20C)")
    wort.add_argument("--water-check", metavar="READING", help="what the instrument reads in water of 20 °C")
    wort.add_argument("--wort-factor", metavar="1.04", help="the refractometer's wort correction factor")
    wort.add_argument("--volume", metavar="19L", help="of wort in the fermenter")
    wort.add_argument("--fermenter-volume", metavar="23L", help="of the fermenter, to the brim")
    wort.add_argument(
        "--rule", action="append", metavar="NAME=NUMBER", help="a setting of the rules for this batch alone"
    )
    wort.add_argument("--adjunct", action="append", metavar="NAME=20g/L", help="sugar of the recipe that is no malt")


def yeast_arguments(parser: argparse.ArgumentParser) -> None:
    """The yeast: a generic kind, and the packet's own figures over it."""
    yeast = parser.add_argument_group("yeast", "the packet's own figures override the kind's")
    yeast.add_argument("--yeast", metavar="KIND", help="see `fermwatch batch yeasts`")
    yeast.add_argument("--yeast-name", metavar="NAME", help="what you call it")
    yeast.add_argument("--temperature", metavar="18-21", help="range to ferment in, °C or as 64-70F")
    yeast.add_argument("--attenuation", metavar="74-79", help="apparent, percent")
    yeast.add_argument("--lag-max", metavar="30h", help="longest time to the first signs of life")
    yeast.add_argument("--alcohol-tolerance", metavar="9", help="percent by volume")
    yeast.add_argument("--diastatic", action=argparse.BooleanOptionalAction, help="ferments dextrins, slowly")


def package_arguments(parser: argparse.ArgumentParser) -> None:
    """The package that the beer is meant for."""
    package = parser.add_argument_group("package", "what it is meant for: the verdict is about this")
    package.add_argument(
        "--package", metavar="KIND", help="as returnable-glass, soda-pet, keg; of several the weakest counts: a,b"
    )
    package.add_argument("--volumes", metavar="2.4", help="of CO2 wanted")
    package.add_argument("--conditioning", metavar="20C", help="where its sugar makes CO2 (20C, or the yeast's own)")
    package.add_argument("--storage", metavar="25C", help="the warmest it will stand (30C; a forced keg 4C)")
    package.add_argument("--accident", metavar="25C", help="how warm it may once get: in a car, a heatwave (25C)")
    package.add_argument("--way", choices=[str(one) for one in KegWay], help="a keg's: CO2 from a cylinder, or sugar")
    package.add_argument("--limit-bar", metavar="BAR", help="the maker's own limit, gauge; or as 130psi")


def naming_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--vessel", metavar="SLUG", help="the fermenter, as the configuration names it")
    parser.add_argument(
        "--pitched-at",
        "--at",
        action=AsTyped,
        metavar="TIME",
        help='when the yeast went in: now, "21:30", "2026-03-01 18:30"',
    )
    parser.add_argument("--notes", metavar="TEXT", help="anything else")
    parser.add_argument("--yes", action="store_true", help="store it without asking")


def original_gravity(options: argparse.Namespace) -> Corrected | None:
    """The original gravity said, corrected; None where none was."""
    if options.og is None:
        return None
    us = options.reader.fahrenheit
    sample = Typed(options.sample, True, options.scale, options.water_check, options.wort_factor, us, what="--og")
    if options.og_by == Instrument.REFRACTOMETER:
        _refuse_sg_by_refractometer(options.og, sample)
        return wort_by_refractometer(options.og, sample)
    if options.og_by is None and options.og.strip().casefold().endswith(("bx", "brix")):
        raise InputError(
            f"--og: {options.og.strip()[:30]}: by which instrument?",
            hint="Say --og-by refractometer (corrected by its wort factor) or --og-by hydrometer.",
        )
    return by_hydrometer(options.og, sample, fermented=False)


def _refuse_sg_by_refractometer(typed: str, sample: Typed) -> None:
    """A gravity that was read on a refractometer's second scale: told with what its °Bx would be stored as."""
    try:
        read_sg = float(typed)
    except ValueError:
        return
    if not LIKE_A_GRAVITY[0] <= read_sg <= LIKE_A_GRAVITY[1]:
        return
    brix = round(sg_to_plato(read_sg), 1)
    stored = wort_by_refractometer(f"{brix}Bx", sample)
    raise InputError(
        f"--og: {typed.strip()[:20]} is no °Bx, which a refractometer reads.",
        hint=f"Read off its SG scale? Say {brix}Bx: that is stored as {gravity(stored.gravity_sg)} "
        f"({', '.join(stored.steps)}). Corrected already? Then leave --og-by away.",
    )


def described(options: argparse.Namespace, site: Site, before: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a Batch that the options say something of. `before`: those of the batch as it is, if it is one."""
    fields: dict[str, Any] = {}
    original = original_gravity(options)
    if original is not None:
        fields["original_sg"] = round(original.gravity_sg, 5)
    if options.origin is not None:
        fields["original_origin"] = GravityOrigin(options.origin)
    if options.volume is not None:
        fields["volume_l"] = amounts.volume_l(options.volume, what="--volume", gallon=options.reader.gallon)
    if options.fermenter_volume is not None:
        fields["fermenter_volume_l"] = amounts.volume_l(
            options.fermenter_volume, what="--fermenter-volume", gallon=options.reader.gallon
        )
    if options.pitched_at is not None:
        fields["pitched_at"] = instant(
            options.pitched_at, site.now, site.voice.zone, what=typed_name(options, "pitched_at")
        )
    if options.rule:
        fields["rule_settings"] = rule_settings(options.rule)
    if options.adjunct:
        fields["extract_adjuncts_g_per_l"] = adjuncts(options.adjunct)
    for name in ("vessel", "notes"):
        if getattr(options, name) is not None:
            fields[name] = getattr(options, name).strip()
    yeast = yeast_of(options, before.get("yeast"))
    if yeast is not None:
        fields["yeast"] = yeast
    package = package_of(options, before.get("package"))
    if package is not None:
        fields["package"] = package
    return fields


def rule_settings(said: list[str]) -> dict[str, float]:
    """Settings by name. InputError names the nearest where one is mistyped."""
    found: dict[str, float] = {}
    for one in said:
        name, _, number = one.partition("=")
        try:
            found[name.strip()] = float(number)
        except ValueError:
            raise InputError(f"--rule {one[:60]!r} is no setting.", hint="Say --rule outside_warning_h=3.") from None
    if wrong := wrong_setting(found):
        raise InputError(f"--rule {wrong.name[:60]}: {wrong.why}")
    return found


def adjuncts(said: list[str]) -> dict[str, float]:
    """Name -> g/L. A name that is not known is taken, for it may be any sugar; it counts as fully fermentable."""
    return dict(amounts.named_amount(one, what="--adjunct") for one in said)


def yeast_of(options: argparse.Namespace, before: Yeast | None) -> Yeast | None:
    """The yeast said: a kind's figures, or those of `before`, with the packet's own over them; None for none."""
    own = _own_figures(options)
    if options.yeast is not None:
        before = generic_yeast(options.yeast)
    if before is None or (options.yeast is None and not own):
        return None
    return replace(before, **own)


def _own_figures(options: argparse.Namespace) -> dict[str, Any]:
    own: dict[str, Any] = {}
    if options.yeast_name is not None:
        own["name"] = options.yeast_name.strip()
    if options.temperature is not None:
        low_c, high_c = amounts.temperature_range_c(
            options.temperature, what="--temperature", us=options.reader.fahrenheit
        )
        own |= {"temperature_low_c": low_c, "temperature_high_c": high_c}
    if options.attenuation is not None:
        low, high = amounts.attenuation(options.attenuation, what="--attenuation")
        own |= {"attenuation_low": low, "attenuation_high": high}
    if options.lag_max is not None:
        own["lag_max_h"] = amounts.hours(options.lag_max, what="--lag-max")
    if options.alcohol_tolerance is not None:
        own["alcohol_tolerance_abv"] = amounts.percent(
            options.alcohol_tolerance, what="--alcohol-tolerance", low=0.3, high=25.0
        )
    if options.diastatic is not None:
        own["diastatic"] = options.diastatic
    return own


def package_of(options: argparse.Namespace, before: PackageChoice | None) -> PackageChoice | None:
    """The package said, or `before` with what is said of it changed; None for nothing said."""
    own = _own_package_figures(options)
    if options.package is None and not own:
        return None
    if options.package is not None:
        kind, lowest_bar = weakest([package_named(one) for one in options.package.split(",")])
        choice = replace(_another_kind(kind, before), limit_bar=lowest_bar)
    elif before is None:
        raise InputError("Into what package?", hint="Add --package, as --package returnable-glass.")
    else:
        kind, choice = package_named(before.kind), before
    if options.way is not None and not kind.relief_valve:
        raise InputError(f"--way is of kegs alone, and this is a {kind.name}.", hint="Leave it out, or --package keg.")
    choice = replace(choice, **own)
    pressure_limit_bar_gauge(kind, choice.limit_bar)
    was_forced = before is not None and before.forced
    if "storage_c" not in own and choice.forced is not was_forced:
        choice = replace(choice, storage_c=FORCED_KEG_C if choice.forced else STANDS_AT_C)
    return choice


def _own_package_figures(options: argparse.Namespace) -> dict[str, Any]:
    own: dict[str, Any] = {}
    if options.volumes is not None:
        own["volumes"] = amounts.volumes_co2(options.volumes, what="--volumes")
    for name in ("storage", "conditioning", "accident"):
        if getattr(options, name) is not None:
            read = amounts.temperature_c if name == "conditioning" else amounts.place_c
            us = options.reader.fahrenheit
            own[f"{name}_c"] = read(getattr(options, name), what=f"--{name}", us=us, low_c=COLDEST_C)
    if options.limit_bar is not None:
        own["limit_bar"] = amounts.pressure_bar(
            options.limit_bar,
            what="--limit-bar",
            low_bar=0.5,  # whatever is chosen elsewhere, its name says bar
        )
    if options.way is not None:
        own["way"] = KegWay(options.way)
    return own


def _another_kind(kind: PackageKind, before: PackageChoice | None) -> PackageChoice:
    """How lively it is stays; a maker's figure, and a keg's way, belong to the kind."""
    way = KegWay.FORCED if kind.relief_valve else None
    if before is None:
        return PackageChoice(kind.slug, DEFAULT_VOLUMES, way=way)
    if before.kind == kind.slug:
        return before
    return replace(before, kind=kind.slug, way=way)
