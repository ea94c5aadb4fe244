"""`fermwatch add`: what went into the beer after pitching. Each addition starts the clock of steadiness again."""

import argparse
import difflib
from collections.abc import Mapping
from dataclasses import dataclass

from fermwatch.commands import amounts, happenings
from fermwatch.commands.batches.describing import ADJUNCTS
from fermwatch.commands.context import Context
from fermwatch.commands.moments import instant
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.commands.storing import store
from fermwatch.desk.happening import noted
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_volume
from fermwatch.model.batch import EventKind


@dataclass(frozen=True, slots=True)
class Addition:
    kind: EventKind
    purpose: str
    name: str
    caution: str
    by_volume: bool = False


ADDITIONS: Mapping[str, Addition] = {
    "dry-hop": Addition(
        EventKind.DRY_HOP,
        "hops into the fermenter",
        "hops",
        "Hops into gassy beer foam over: open slowly, add a little, wait. Their enzymes free sugar: at least 5 warm "
        "days, one hydrometer reading and the warm-sample diacetyl test before it is bottled.",
    ),
    "sugar": Addition(
        EventKind.SUGAR,
        "sugar, honey, syrup, lactose",
        "sucrose",
        "Sugar into gassy beer foams over: dissolve it first, and pour slowly. The verdict counts it as gravity "
        "added from now on; the original gravity that you gave stays as it is.",
    ),
    "fruit": Addition(
        EventKind.FRUIT,
        "fruit, whole or as juice",
        "fruit",
        "Fruit brings sugar, about a tenth of its mass (common practice), and lifts the cap: keep headspace for it.",
    ),
    "blend": Addition(
        EventKind.BLEND,
        "another beer or wort",
        "beer",
        "A blend starts every clock anew: what one yeast left, the other may ferment.",
        by_volume=True,
    ),
}


def arguments(parser: argparse.ArgumentParser) -> None:
    listed = "; ".join(f"{name}: {addition.purpose}" for name, addition in ADDITIONS.items())
    parser.usage = "fermwatch add BATCH WHAT [TEXT] [options]"
    parser.add_argument("batch", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument("what", metavar="WHAT", help=listed)
    parser.add_argument("text", nargs="*", default=[], metavar="TEXT", help="in your own words")
    parser.add_argument("--grams", metavar="60", help="how much: 60, 1.2kg, 2oz")
    parser.add_argument("--volume", metavar="2L", help="of a blend")
    parser.add_argument("--name", metavar="NAME", help="which: sucrose, lactose, maltodextrin, honey, raspberries")
    happenings.common_arguments(parser)


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    with open_site(context) as site:
        ready = prepared(options, context, site)
        return store(options, context, ready)


def prepared(options: argparse.Namespace, context: Context, site: Site) -> Prepared:
    """The addition as it would stand. InputError for what is missing or cannot be."""
    addition = ADDITIONS.get(options.what)
    if addition is None:
        raise InputError(f"{options.what!r:.40} cannot be added.", hint=f"One of: {', '.join(ADDITIONS)}.")
    data = _data(options, addition)
    batch = find_batch(site, options.batch)
    at = instant(options.at, site.now, site.voice.zone)
    added = happenings.event(context, addition.kind, at, data, " ".join(options.text).strip())
    return happenings.prepared(site, noted(site.reader, batch, added, site.now, [addition.caution]))


def _name(options: argparse.Namespace, addition: Addition) -> str:
    """What is added; a sugar's name a slip away from a known one is asked back, any other is taken."""
    name = str(options.name or addition.name).strip().lower()
    if addition.kind is EventKind.SUGAR and name not in ADJUNCTS and not options.even_so:
        near = difflib.get_close_matches(name, ADJUNCTS, n=1, cutoff=0.75)
        if near:
            raise InputError(
                f"--name: {name!r:.40} is not known here: did you mean {near[0]}?",
                hint=f"Known: {', '.join(ADJUNCTS)}. Another that ferments fully? Add --even-so.",
            )
    return name


def _data(options: argparse.Namespace, addition: Addition) -> dict[str, float | str | bool]:
    name = _name(options, addition)
    if addition.by_volume:
        if options.volume is None:
            raise InputError("How much of it?", hint=f"Add --volume {typed_volume(2)}.")
        return {
            "volume_l": round(amounts.volume_l(options.volume, what="--volume", gallon=options.reader.gallon), 3),
            "name": name,
        }
    if options.grams is None:
        raise InputError("How much of it?", hint="Add --grams 60, or --grams 2oz.")
    return {"grams": round(amounts.mass_g(options.grams, what="--grams"), 1), "name": name}
