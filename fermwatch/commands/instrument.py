"""`fermwatch instrument`: the instruments of one person by name, so that what is so of each is said once."""

import argparse

from fermwatch.commands import sheet
from fermwatch.commands.context import Context
from fermwatch.commands.measurements.typed import SCALES_C, Typed, beer_by_refractometer, by_hydrometer
from fermwatch.config.instruments import OwnInstrument, forget, keep, own_instruments
from fermwatch.errors import InputError
from fermwatch.model.batch import Instrument

_TRIED = {Instrument.HYDROMETER: "1.010", Instrument.REFRACTOMETER: "6Bx"}


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Keeps what is so of an instrument of yours: its scale, what it reads in water, its wort factor. "
        "`fermwatch measure BATCH NAME READING` then counts it in. Without a name: what is kept."
    )
    parser.add_argument("name", nargs="?", metavar="NAME", help="yours for it, as narrow")
    parser.add_argument("kind", nargs="?", metavar="hydrometer|refractometer", help="what it is")
    parser.add_argument("--scale", default="", metavar="|".join(SCALES_C), help="printed on a hydrometer (20C)")
    parser.add_argument("--water-check", default="", metavar="READING", help="what it reads in water of 20 °C")
    parser.add_argument("--wort-factor", default="", metavar="1.04", help="a refractometer's wort correction factor")
    parser.add_argument("--forget", action="store_true", help="keep it no longer; what it measured stays")


def run(options: argparse.Namespace, context: Context) -> int:
    if options.name is None or (options.name == "list" and options.kind is None):
        _list(context)
        return 0
    if options.forget:
        forget(options.name, context.environment)
        context.say(f"{options.name} is kept no longer. What it measured stays.")
        return 0
    if options.kind not in list(Instrument):
        raise InputError(f"What is {options.name}?", hint="Say hydrometer or refractometer behind its name.")
    said = (options.scale, options.water_check, options.wort_factor)
    made = OwnInstrument(options.name, Instrument(options.kind), *(text.strip() for text in said))
    _try(made)
    file = keep(made, context.environment)
    sheet.say(context, f"Kept in {file}. Read by it: fermwatch measure BATCH {made.name} READING")
    return 0


def _try(made: OwnInstrument) -> None:
    """InputError for what a reading by it could not be corrected with."""
    typed = Typed(None, True, made.scale or "20C", made.water_check or None, made.wort_factor or None)
    if made.kind is Instrument.HYDROMETER:
        if made.wort_factor:
            raise InputError("--wort-factor belongs to a refractometer.", hint="Leave it out.")
        by_hydrometer(_TRIED[made.kind], typed)
        return
    if made.scale:
        raise InputError("--scale belongs to a hydrometer.", hint="Leave it out.")
    beer_by_refractometer(_TRIED[made.kind], typed, original_brix="12Bx", original_sg=None)


def _list(context: Context) -> None:
    known = own_instruments(context.environment)
    if not known:
        context.say("None is kept. As: fermwatch instrument narrow hydrometer --scale 60F --water-check 1.001")
        return
    body = [
        (one.name, one.kind.value, one.scale or "-", one.water_check or "-", one.wort_factor or "-")
        for one in known.values()
    ]
    sheet.say(context, sheet.table(("name", "kind", "scale", "in water", "wort factor"), body, left=5))
