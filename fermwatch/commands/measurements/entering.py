"""`fermwatch measure BATCH hydrometer|refractometer READING`: corrected, compared, shown, and then stored."""

import argparse

from fermwatch.brewing.attenuation import attenuated
from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.measurements.typed import Typed, beer_by_refractometer, by_hydrometer
from fermwatch.commands.moments import instant
from fermwatch.commands.parser import typed_name
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.commands.storing import store
from fermwatch.config.instruments import own_instruments
from fermwatch.desk.asking import new_id
from fermwatch.desk.correcting import Corrected
from fermwatch.desk.measuring import STORED_DIGITS, ByHand, by_hand
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_gravity, typed_temperature
from fermwatch.model.batch import Batch, Instrument
from fermwatch.saying import words
from fermwatch.science.alcohol import abv_from_gravity
from fermwatch.text import in_quotes

USUAL_SCALE = "20C"


def enter(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        ready = prepared(options, context, site)
    return store(options, context, ready)


def prepared(options: argparse.Namespace, context: Context, site: Site) -> Prepared:
    """The reading as it would stand. InputError for what is missing or cannot be read."""
    _count_in_own(options, context)
    batch = find_batch(site, options.batch)
    at = instant(options.at, site.now, site.voice.zone)
    read = by_hand(site.reader, batch, _corrected(options, batch), at, degassed=_degassed(options))
    asked, shown = read.asked(new_id(context.clock.now())), _shown(read.corrected, context)
    minded = (*read.corrected.cautions, *read.doubts)
    return Prepared(
        _rows(site, read),
        asked,
        f"Store {shown} for {batch.name}?",
        f"Stored {shown} for {batch.name}.",
        asked.measurement.id,
        minded=tuple(site.voice.text(text, sheet.LONG) for text in minded),
        doubts=read.doubts,
    )


def _count_in_own(options: argparse.Namespace, context: Context) -> None:
    """An instrument that is kept by name is of its kind, and brings what was not typed with the reading."""
    if options.instrument is not None and options.instrument not in list(Instrument):
        own = own_instruments(context.environment).get(options.instrument)
        if own is None:
            hint = "Say hydrometer or refractometer, or keep it by name: fermwatch instrument NAME hydrometer"
            raise InputError(f"{options.instrument!r:.40} is no instrument.", hint=hint)
        options.instrument = own.kind.value
        options.scale = options.scale or own.scale
        options.water_check = options.water_check or own.water_check or None
        options.wort_factor = options.wort_factor or own.wort_factor or None
    options.scale = options.scale or USUAL_SCALE


def _shown(corrected: Corrected, context: Context) -> str:
    return context.voice.gravity(corrected.gravity_sg) if context.units.plato else f"{corrected.gravity_sg:.4f}"


def _degassed(options: argparse.Namespace) -> bool:
    """Gas troubles a hydrometer alone."""
    return bool(options.degassed) or options.instrument == Instrument.REFRACTOMETER


def _corrected(options: argparse.Namespace, batch: Batch) -> Corrected:
    if options.instrument is None or options.reading is None:
        raise InputError(
            "What was read, and by what?",
            hint=f"As: fermwatch measure {in_quotes(batch.name)} hydrometer {typed_gravity(1.012)} "
            f"--sample {typed_temperature(21)} --degassed",
        )
    sample = Typed(
        options.sample,
        _degassed(options),
        options.scale,
        options.water_check,
        options.wort_factor,
        us=options.reader.fahrenheit,
        sample=typed_name(options, "sample"),
    )
    if options.instrument == Instrument.HYDROMETER:
        return by_hydrometer(options.reading, sample)
    if options.instrument == Instrument.REFRACTOMETER:
        return beer_by_refractometer(
            options.reading, sample, original_brix=options.original_brix, original_sg=batch.original_sg
        )
    raise InputError(f"{options.instrument!r:.40} is no instrument.", hint="Say hydrometer or refractometer.")


def _rows(site: Site, read: ByHand) -> tuple[tuple[str, str], ...]:
    batch, at, corrected = read.batch, read.at, read.corrected
    unit = "" if corrected.unit == "SG" else f" {corrected.unit}"
    as_read = f"{corrected.reading:.4g}{unit}" if unit else f"{corrected.reading:.4f}".removesuffix("0")
    spread = (
        f" {site.voice.gravity_spread(corrected.sd_points)}"
        if site.voice.units.plato
        else f" ±{corrected.sd_points / 1000.0:.4f} SG 20/20"
    )
    gravity = site.voice.gravity_beside_plato(corrected.gravity_sg, 4, spread=spread)
    return (
        ("batch", f"{site.voice.text(batch.name)}{_where(batch, site)}"),
        ("taken", f"{words.moment(at, site.now, site.voice)} ({words.beer_day(batch.pitched_at, at, site.voice)})"),
        (corrected.instrument.value, site.voice.text(", ".join((f"read {as_read}", *corrected.steps)))),
        ("gravity", gravity),
        ("so far", _fermented(read)),
    )


def _fermented(read: ByHand) -> str:
    gravity_sg = round(read.corrected.gravity_sg, STORED_DIGITS)
    share = attenuated(read.original_sg, gravity_sg)
    if share is None or share < 0.0:
        return ""
    alcohol = abv_from_gravity(read.original_sg, gravity_sg)
    return f"{share:.0%} apparent attenuation, {alcohol:.1f} % alcohol by volume"


def _where(batch: Batch, site: Site) -> str:
    return f" in {site.voice.text(batch.vessel)}" if batch.in_fermenter else ", in its package"
