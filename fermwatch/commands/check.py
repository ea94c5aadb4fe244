"""`fermwatch check`: is everything right, from the configuration down to what arrives? Each with its remedy."""

import argparse
import asyncio
from collections.abc import Iterator, Sequence

import fermwatch
from fermwatch.commands import sheet
from fermwatch.commands.checking import machine, stored, wires
from fermwatch.commands.checking.checked import CheckLine, Worth, mend
from fermwatch.commands.context import Context
from fermwatch.commands.moments import seconds
from fermwatch.commands.watch import NOTHING, is_empty, load_configuration
from fermwatch.config.load import Loaded
from fermwatch.config.named_files import what_is_amiss
from fermwatch.errors import ConfigError

TO_MEND = 1


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Goes through the configuration, ports, brokers, controllers, permissions, clock, disk, store, watcher and "
        "notifications. Nothing is written, and no serial port is opened without --listen."
    )
    parser.set_defaults(needs_nothing=True)
    parser.add_argument("--listen", type=seconds, metavar="30s", help="wait so long, and tell what arrives")
    parser.add_argument("--configuration", action="store_true", help="look at the configuration alone")
    parser.add_argument("--json", action="store_true", help="as JSON")


def run(options: argparse.Namespace, context: Context) -> int:
    """0 where nothing is to be mended, 78 for the configuration, else 1."""
    loaded = load_configuration(context)
    amiss = [mend("config", f"{one.said} ({one.label})", one.remedy) for one in what_is_amiss(loaded)]
    if not options.json:
        context.say("\n".join(_described(loaded, context, wrong=bool(amiss))))
    checked = list(amiss)
    if not options.configuration:
        if options.listen and not options.json:
            context.say(f"\nListening for {options.listen:g} s.")
        checked += _all(loaded, context, options.listen)
    if options.json:
        sheet.say_json(context, {"checks": [_as_object(one) for one in checked]})
    else:
        sheet.say(context, _lines(checked, sheet.width(context)))
    if amiss:
        return ConfigError.exit_status
    return TO_MEND if any(one.worth is Worth.MEND for one in checked) else 0


def _all(loaded: Loaded, context: Context, listen_s: float | None) -> Iterator[CheckLine]:
    """Whatever is to be looked at, in the order in which it is mended."""
    now, store = context.clock.now(), context.open_store()
    yield from machine.clock(loaded, now)
    yield from machine.disk(loaded)
    yield from machine.permissions(loaded)
    yield from stored.database(store, context.clock)
    living = stored.alive(store, now)
    yield from stored.watcher(living)
    if living is None:
        yield from asyncio.run(wires.tried(loaded, context.clock, listen_s))
    else:
        if listen_s:
            asyncio.run(asyncio.sleep(listen_s))
        with store.reader() as reader:
            yield from stored.sources(reader, loaded, context.clock.now())
    yield from stored.notifiers(store, loaded)


def _as_object(one: CheckLine) -> dict[str, str | None]:
    return {"what": one.what, "worth": one.worth.value, "text": one.text, "remedy": one.remedy or None}


def _described(loaded: Loaded, context: Context, *, wrong: bool) -> list[str]:
    """What the configuration says."""
    config = loaded.config
    state = NOTHING if is_empty(config) else "something that it names is missing, see below" if wrong else "right"
    lines = [
        f"fermwatch {fermwatch.__version__}, {context.open_store().made_of}",
        f"configuration  {loaded.file}: {state}",
        f"store          {loaded.store}",
        f"site           {config.site.name}, times in {config.site.timezone}",
    ]
    lines += [
        f"source         {source.name} ({source.driver}), channels: {', '.join(source.channels) or 'none used'}"
        for source in loaded.sources
    ]
    for vessel in config.vessel:
        probes = [f"{probe.id} ({probe.quantity})" for probe in config.probe if probe.vessel == vessel.id]
        lines.append(f"fermenter      {vessel.id}: {', '.join(probes) or 'no probe: measure by hand'}")
    lines += [f"controller     {one.source} of {one.vessel}: {one.degree} at most" for one in config.controller]
    stores = [probe.id for probe in config.probe if probe.vessel is None]
    lines += [f"bottle store   {', '.join(stores)}"] if stores else []
    if not config.vessel:
        lines.append("fermenter      none yet: add a [[vessel]] with id, name and volume_l")
    return lines


def _lines(checked: Sequence[CheckLine], size: int) -> list[str]:
    """A line each, and below it what to do."""
    lines = [""] if checked else []
    for one in checked:
        mark = f"{one.worth.value:<5} {one.what:<9} "
        lines += sheet.paragraph(one.text, size, mark=mark)
        if one.remedy:
            lines += sheet.paragraph(one.remedy, size, mark=" " * (len(mark) - 2) + "> ")
    return lines
