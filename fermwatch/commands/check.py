"""`fermwatch check`: is the configuration right, down to the names of the channels?"""

import argparse

import fermwatch
from fermwatch.commands.context import Context
from fermwatch.commands.watch import NOTHING, is_empty, load_configuration
from fermwatch.config.named_files import ports_not_there, what_is_amiss
from fermwatch.errors import ConfigError


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(needs_nothing=True)


def run(_options: argparse.Namespace, context: Context) -> int:
    loaded = load_configuration(context)
    config = loaded.config
    amiss = what_is_amiss(loaded)
    state = NOTHING if is_empty(config) else "something that it names is missing, see below" if amiss else "right"
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
    lines += [f"not there now  {port}: watched as soon as it is plugged in" for port in ports_not_there(loaded)]
    if not config.vessel:
        lines.append("fermenter      none yet: add a [[vessel]] with id, name and volume_l")
    lines += [f"{one.label:<14} {one.said} {one.remedy}" for one in amiss]
    context.say("\n".join(lines))
    return ConfigError.exit_status if amiss else 0
