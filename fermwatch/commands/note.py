"""`fermwatch note`: what was seen, smelt, tasted or done. Nothing goes into the beer here: that is `fermwatch add`."""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.commands import amounts, happenings
from fermwatch.commands.add import ADDITIONS
from fermwatch.commands.context import Context
from fermwatch.commands.measurements import listing
from fermwatch.commands.measurements.typed import Typed, by_hydrometer
from fermwatch.commands.moments import end, instant, span
from fermwatch.commands.site import Site, find_batch, open_site
from fermwatch.commands.storing import store
from fermwatch.desk.declaring import DIACETYL_TEST, Declared, data_of
from fermwatch.desk.happening import noted
from fermwatch.desk.prepared import Prepared
from fermwatch.errors import InputError
from fermwatch.model.amounts import temperature_range, typed_gravity, typed_temperature, typed_volume
from fermwatch.model.batch import EventKind
from fermwatch.model.event_data import OPENED, STANDS_AT, VENTED
from fermwatch.requests.shapes import LONGEST_SAID
from fermwatch.text import in_quotes

Data = Mapping[str, float | str | bool]

DECLARING = {EventKind.REST, EventKind.RAMP, EventKind.CRASH, EventKind.BACK_TO_RANGE}

ADDS = ("--grams", "--volume", "--name")  # options of `fermwatch add`, which are answered here with where they belong

FORCED_WORDS = (
    f"It counts only if the sample stood at {temperature_range(24, 27)} until two readings a day apart agreed. "
    "Hops, fruit, sugar or a blend added to the beer afterwards void it."
)
TRANSFER_WORDS = (
    "A transfer starts the clock of steadiness again: leave the yeast that it still needs behind as late as you can."
)


@dataclass(frozen=True, slots=True)
class Subject:
    """What may be noted. `data` reads the options; `words` are said with it."""

    purpose: str
    kind: EventKind = EventKind.OBSERVATION
    data: Callable[[argparse.Namespace], Data] | None = None
    words: str = ""


def _forced_ferment(options: argparse.Namespace) -> Data:
    if options.gravity is None:
        raise InputError(
            "Where did the sample end?", hint=f"Add --gravity {typed_gravity(1.010)}, as read when two readings agreed."
        )
    sample = Typed(options.sample, True, us=options.reader.fahrenheit, what="--gravity")
    corrected = by_hydrometer(options.gravity, sample)
    data: dict[str, float | str | bool] = {
        "gravity_sg": round(corrected.gravity_sg, 5),
        "same_yeast": not options.other_yeast,
    }
    if options.kept_at is not None:
        data["temperature_c"] = round(
            amounts.temperature_c(options.kept_at, what="--kept-at", us=options.reader.fahrenheit), 2
        )
    return data


def _diacetyl_test(options: argparse.Namespace) -> Data:
    if options.passed is None:
        raise InputError("How did it come out? Say --passed or --failed.", hint=DIACETYL_TEST)
    return {"passed": options.passed}


def _opened(options: argparse.Namespace) -> Data:
    if options.gushed is None:
        raise InputError("How was it? Say --calm or --gushed.", hint="Calm: it foamed no more than one from the shop.")
    data: dict[str, float | str | bool] = {"gushed": options.gushed}
    if options.after_warm is not None:
        data["warm_days"] = round(span(options.after_warm, what="--after-warm") / timedelta(days=1), 2)
    return data


SUBJECTS: Mapping[str, Subject] = {
    "signs-of-life": Subject("first bubbles, first foam"),
    "krausen-up": Subject("the kräusen stands high"),
    "krausen-fallen": Subject("the kräusen has fallen back"),
    "smell": Subject("how it smells"),
    "taste": Subject("how it tastes"),
    "look": Subject("how it looks: clear, hazy, a skin on it"),
    "diacetyl-test": Subject("the warm-sample test", EventKind.DIACETYL_TEST, _diacetyl_test),
    "forced-ferment": Subject("where the forced sample ended", EventKind.FORCED_FERMENT, _forced_ferment, FORCED_WORDS),
    STANDS_AT: Subject("how warm it stands, without a thermometer on the beer"),
    "rest": Subject("it is kept warm on purpose, as for diacetyl", EventKind.REST),
    "ramp": Subject("it is brought to a temperature on purpose", EventKind.RAMP),
    "crash": Subject("it is being cooled", EventKind.CRASH),
    "back-to-range": Subject("a rest, ramp or crash is over, or none was meant", EventKind.BACK_TO_RANGE),
    OPENED: Subject("of packaged beer: one was opened cold, and gushed or was calm", data=_opened),
    VENTED: Subject("of packaged beer: the gas was let out of all, in the cold"),
    "transfer": Subject("it was racked", EventKind.TRANSFER, words=TRANSFER_WORDS),
    "split": Subject("a part of it was taken away", EventKind.SPLIT),
    "remark": Subject("anything else", EventKind.NOTE),
}


def arguments(parser: argparse.ArgumentParser) -> None:
    listed = "; ".join(f"{name}: {subject.purpose}" for name, subject in SUBJECTS.items())
    parser.usage = (
        "fermwatch note BATCH WHAT [TEXT] [options]\n"
        "       fermwatch note list [BATCH] [--json]\n"
        "       fermwatch note void IDENTITY [--reason TEXT] [--yes]"
    )
    parser.add_argument("batch", metavar="BATCH", help="identity, beginning of one, name or fermenter")
    parser.add_argument("what", nargs="?", metavar="WHAT", help=listed)
    parser.add_argument("text", nargs="*", default=[], metavar="TEXT", help="in your own words")
    happenings.common_arguments(parser)
    parser.add_argument("--json", action="store_true", help="with list: as JSON")
    parser.add_argument("--reason", metavar="TEXT", help="with void: why")
    for foreign in ADDS:
        parser.add_argument(foreign, help=argparse.SUPPRESS)
    test = parser.add_argument_group("diacetyl-test").add_mutually_exclusive_group()
    test.add_argument("--passed", dest="passed", action="store_true", default=None, help="no butter in the warmed half")
    test.add_argument("--failed", dest="passed", action="store_false", help="the warmed half smells of butter")
    of_opened = parser.add_argument_group(OPENED)
    opened = of_opened.add_mutually_exclusive_group()
    opened.add_argument("--calm", dest="gushed", action="store_false", default=None, help="it foamed as usual")
    opened.add_argument("--gushed", dest="gushed", action="store_true", help="it foamed over, or nearly")
    of_opened.add_argument("--after-warm", metavar="14d", help="how long it had stood warm, before it was chilled")
    stands = parser.add_argument_group(STANDS_AT)
    stands.add_argument("--temperature", metavar="19C", help="of the beer, or of the room or the fridge around it")
    stands.add_argument("--since", metavar="TIME", help="since when it has stood so; it is asked again after a week")
    forced = parser.add_argument_group("forced-ferment")
    forced.add_argument("--gravity", metavar="1.010", help="where the sample ended, degassed")
    forced.add_argument("--sample", metavar="23C", help="its temperature when it was read")
    forced.add_argument("--kept-at", metavar="25C", help="at what temperature it fermented")
    forced.add_argument("--other-yeast", action="store_true", help="pitched with another yeast: one point less sure")
    meant = parser.add_argument_group("rest, ramp, crash", "what is meant is the range while it lasts")
    meant.add_argument("--target", metavar="17C", help="at or to what temperature (a crash: 2C)")
    meant.add_argument("--by", metavar="TIME", help="of a ramp: when it is there, as 3d, 36h or 2026-03-12")
    meant.add_argument("--until", metavar="TIME", help="when it is over; without it, until you end it: back-to-range")


def _stands_at(options: argparse.Namespace, site: Site, at: datetime) -> Data:
    if options.temperature is None or options.since is None:
        as_typed = f'--temperature {typed_temperature(19)} --since "yesterday 18:00"'
        hint = f"As: {as_typed}, of the beer, the room or the fridge."
        raise InputError("How warm does it stand, and since when?", hint=hint)
    celsius = amounts.temperature_c(options.temperature, what="--temperature", us=options.reader.fahrenheit)
    since = instant(options.since, at, site.voice.zone, what="--since")
    return {"temperature_c": round(celsius, 2), "since": since.isoformat()}


def _declared(kind: EventKind, options: argparse.Namespace, site: Site, at: datetime) -> Declared:
    """What was typed of a rest, a ramp or a crash."""
    high_c = 15.0 if kind is EventKind.CRASH else 40.0
    target_c, us = None, options.reader.fahrenheit
    if options.target is not None:
        target_c = amounts.temperature_c(options.target, what="--target", us=us, low_c=-2.0, high_c=high_c)
    by, until = (
        None if typed is None else end(typed, at, site.voice.zone, what=what)
        for typed, what in ((options.by, "--by"), (options.until, "--until"))
    )
    return Declared(kind, target_c, by, until)


def _refuse_additions(options: argparse.Namespace) -> None:
    """What belongs to `fermwatch add`, by its name or by its options: told as it is typed there."""
    typed = {option: said for option in ADDS if (said := getattr(options, option[2:])) is not None}
    if options.what not in ADDITIONS and not typed:
        return
    what = options.what if options.what in ADDITIONS else "blend" if "--volume" in typed else "dry-hop"
    amount = "--volume" if ADDITIONS[what].by_volume else "--grams"
    said = {amount: typed_volume(2) if ADDITIONS[what].by_volume else "60"}
    said |= {option: value[:30] for option, value in typed.items()}
    words = " ".join(f"{option} {value}" for option, value in said.items())
    raise InputError(
        "What goes into the beer is added, since it changes what may be concluded.",
        hint=f'As: fermwatch add "{options.batch[:60]}" {what} {words}',
    )


def run(options: argparse.Namespace, context: Context) -> int:
    options.reader = context.units
    if options.batch == "list":
        return listing.list_events(options, context, options.what)
    if options.batch == "void":
        return listing.void(options, context, options.what)
    with open_site(context) as site:
        return store(options, context, prepared(options, context, site))


def prepared(options: argparse.Namespace, context: Context, site: Site) -> Prepared:
    """What was seen or done, as it would stand. InputError for what is missing or cannot be."""
    subject = SUBJECTS.get(options.what or "")
    _refuse_additions(options)
    if subject is None:
        said = f"{options.what!r:.40} cannot be noted." if options.what else "What was seen or done?"
        raise InputError(said, hint=f"One of: {', '.join(SUBJECTS)}.")
    text = " ".join(options.text).strip()
    if len(text) > LONGEST_SAID:
        raise InputError(f"That is {len(text)} letters, and {LONGEST_SAID} are kept.", hint="Say it in two notes.")
    batch = find_batch(site, options.batch)
    at = instant(options.at, site.now, site.voice.zone)
    data = dict(subject.data(options)) if subject.data is not None else {}
    if subject.kind in DECLARING:
        declared = _declared(subject.kind, options, site, at)
        data = data_of(site.reader, batch, declared, at, site.now)
    if subject.kind is EventKind.OBSERVATION:
        data["what"] = options.what
    if options.what == STANDS_AT:
        data |= _stands_at(options, site, at)
    if subject.kind is EventKind.NOTE and not text:
        raise InputError("The remark is empty.", hint=f'As: fermwatch note {in_quotes(batch.name)} remark "lid opened"')
    event = happenings.event(context, subject.kind, at, data, text)
    cautions = [subject.words] if subject.words else []
    return happenings.prepared(site, noted(site.reader, batch, event, site.now, cautions))
