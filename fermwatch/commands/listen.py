"""`fermwatch listen`: what serial ports and a broker say, what it is likely to be, and the configuration for it."""

import argparse
import asyncio
import os
from collections.abc import Sequence
from contextlib import nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fermwatch.commands import sheet
from fermwatch.commands.checking.stored import alive
from fermwatch.commands.context import Context
from fermwatch.commands.moments import seconds
from fermwatch.commands.overhearing import writing
from fermwatch.commands.overhearing.hearing import BY_KEY, EverythingHeard, Listening, Screen, hear, short
from fermwatch.commands.overhearing.keys import at_a_terminal, keys_at_once, pressed
from fermwatch.commands.overhearing.naming import Named, Naming, best_guess
from fermwatch.config.mistakes import explain
from fermwatch.config.timezone import machine_timezone
from fermwatch.contracts.overhearing import Told
from fermwatch.errors import FermwatchError, InputError
from fermwatch.listening.gathering import Gathered
from fermwatch.listening.stanzas import bound, slug, stanzas
from fermwatch.listening.telling import as_object, guess, named
from fermwatch.text import clean

if TYPE_CHECKING:
    from fermwatch_drivers.mqtt.options import MqttOptions

NOTHING_HEARD = 1
IN_USE = "in use"
WATCHED = (
    "The watcher runs, and keeps the ports that it was configured with. What else comes on one of them is named by "
    "`fermwatch status --json` (unbound_channels); or stop it while you listen: sudo systemctl stop fermwatch"
)
BUS = Path("/sys/bus/w1/devices")
_HOW_TO_GO_ON = (
    "Then `fermwatch check`, and `fermwatch watch`, or `sudo fermwatch init` for a service; a watcher that runs reads "
    "it after a reload."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Shows what serial ports and a broker say, tells what is likely a temperature or a gravity, lets you name it, "
        "and writes the configuration for it. Nothing is sent, and a port that a program has is left alone."
    )
    parser.add_argument("--port", action="append", default=[], metavar="DEVICE", help="this serial port; repeatable")
    parser.add_argument("--one-wire", action="store_true", help="the thermometers on this machine's 1-Wire bus")
    parser.add_argument("--baud", type=int, metavar="N", help="its speed; without it the usual ones are tried")
    broker = parser.add_argument_group("broker", "as in a source of the configuration")
    broker.add_argument("--broker", metavar="HOST", help="an MQTT broker's name or address")
    broker.add_argument("--broker-port", type=int, metavar="N", help="1883, or 8883 with --tls")
    broker.add_argument("--topic", default="#", metavar="FILTER", help="what to hear; # is everything")
    broker.add_argument("--username", metavar="NAME", help="the name to log in with")
    broker.add_argument("--password-file", type=Path, metavar="FILE", help="holds nothing but the password, mode 600")
    broker.add_argument("--password-env", metavar="VARIABLE", help="the environment variable that holds it")
    broker.add_argument("--tls", action="store_true", help="encrypt, and check the certificate")
    broker.add_argument("--ca-file", type=Path, metavar="FILE", help="the authority of the certificate, in PEM")
    outcome = parser.add_argument_group("outcome")
    outcome.add_argument(
        "--for", dest="for_s", type=seconds, metavar="20s", help="how long; else until a key is pressed"
    )
    outcome.add_argument("--write", type=Path, metavar="FILE", help="the configuration to add it to")
    outcome.add_argument("--vessel", metavar="ID", help="the fermenter it belongs to, where nobody is asked (left)")
    outcome.add_argument("--yes", action="store_true", help="ask nothing: take the best guess")
    outcome.add_argument("--json", action="store_true", help="what was heard, as JSON")


def run(options: argparse.Namespace, context: Context) -> int:
    asked = at_a_terminal() and not options.yes and not options.json
    if options.for_s is None and not asked:
        raise InputError("How long? Without a terminal there is no key to end it by.", hint="Add --for 20s.")
    file = writing.target(context, options.write)
    said, _ = writing.said_so_far(file)  # what is wrong with it is told before anybody waits
    listening = _places(options, context, quiet=options.json)
    screen = Screen(context, quiet=options.json, by_key=asked)
    if asked:
        context.say(BY_KEY)
    with keys_at_once() if asked else nullcontext() as key:
        heard = asyncio.run(hear(listening, screen, context.clock, for_s=options.for_s, key=key))
    if options.json:
        sheet.say_json(context, _document(heard))
        return 0 if heard.said else NOTHING_HEARD
    _say_what_was_silent(heard, context)
    known = {one.key: bound(said, one) for one in heard.channels}
    for one in heard.channels:
        if known[one.key]:
            context.say(f"{named(one)}: configured already, as {known[one.key]}.")
    channels = [one for one in heard.channels if not known[one.key]]
    if not channels:
        context.say("Nothing else was heard." if known else "No number was heard.")
        return 0 if known else NOTHING_HEARD
    if asked:
        try:
            meant = Naming(context, said).ask(channels)
        except EOFError:
            context.say("Nothing was written.")
            return NOTHING_HEARD
    else:
        meant = best_guess(channels, said, slug(options.vessel or _only_vessel(said)))
        _say_guesses(channels, context)
    return _write(meant, heard, file, said, options, context, ask=asked)


def _write(
    meant: Named,
    heard: EverythingHeard,
    file: Path,
    said: dict[str, Any],
    options: argparse.Namespace,
    context: Context,
    *,
    ask: bool,
) -> int:
    if not meant.chosen:
        context.say("Nothing was named, nothing was written.")
        return NOTHING_HEARD
    text = stanzas(meant.chosen, meant.vessels, heard.channels, said, machine_timezone())
    context.say(f"\n{text}")
    if options.write is None and not ask:
        context.say(f"This was not written. Add --write {file} to have it there.")
        return 0
    if ask and pressed(context, f"Add this to {file}?", {"y": "yes", "n": "no"}, "y") != "y":
        context.say("Nothing was written.")
        return 0
    loaded = writing.add(file, text, context)
    reads = f"{sheet.counted(len(loaded.config.probe), 'probe')} of {sheet.counted(len(loaded.sources), 'source')}"
    written = f"Written to {file}, which reads {reads} now. {_HOW_TO_GO_ON}"
    sheet.say(context, sheet.paragraph(written, sheet.width(context)))
    return 0


def _only_vessel(said: dict[str, Any]) -> str:
    named = said.get("vessel") or [{}]
    return str(named[0].get("id") or "left") if isinstance(named[0], dict) else "left"


def _places(options: argparse.Namespace, context: Context, *, quiet: bool) -> Sequence[Listening]:
    from fermwatch_drivers.overhearing import ports
    from fermwatch_drivers.overhearing.broker import overhear_broker
    from fermwatch_drivers.overhearing.bus import overhear_bus, thermometers

    wanted = [os.path.abspath(port) for port in options.port]  # noqa: PTH100 - keeps a link, which is the stable name
    one_wire = options.one_wire
    if not wanted and options.broker is None and not one_wire:
        wanted, one_wire = ports.ports(), bool(thermometers(BUS))
        if not wanted and not one_wire:
            hint = "Plug the board in, or name a broker: fermwatch listen --broker HOST"
            raise FermwatchError("There is no serial port here.", hint=hint)
    if wanted and not quiet:
        context.say(f"Serial ports: {', '.join(short(port, 70) for port in wanted)}")
    speeds = (options.baud,) if options.baud else ports.USUAL_SPEEDS
    listening: list[Listening] = [
        partial(_one_port, port=port, context=context, speeds=speeds) for port in dict.fromkeys(wanted)
    ]
    if one_wire:
        listening.append(lambda told: overhear_bus(told, context.clock, BUS))
    if options.broker is not None:
        broker = _broker(options)
        listening.append(lambda told: overhear_broker(broker, told))
    return listening


async def _one_port(told: Told, *, port: str, context: Context, speeds: Sequence[int]) -> None:
    from fermwatch_drivers.overhearing.ports import overhear_port

    await overhear_port(port, told, context.clock, speeds)


def _broker(options: argparse.Namespace) -> "MqttOptions":
    """InputError where what was said of it cannot be meant so."""
    from pydantic import ValidationError

    from fermwatch_drivers.mqtt.options import MqttOptions

    said = {
        "host": options.broker,
        "port": options.broker_port,
        "topic": _topic(options.topic),
        "username": options.username,
        "password_file": options.password_file and options.password_file.absolute(),
        "password_env": options.password_env,
        "ca_file": options.ca_file and options.ca_file.absolute(),
    }
    try:
        return MqttOptions(**{key: value for key, value in said.items() if value is not None}, tls=options.tls)
    except ValidationError as error:
        wrong = explain(error, MqttOptions, None, "")
        raise InputError(f"broker: {wrong.message}", hint=wrong.hint) from None


def _topic(topic_filter: str) -> str:
    """As a source names levels that differ: {level2} for a + that stands there."""
    levels = enumerate(topic_filter.split("/"), start=1)
    return "/".join(f"{{level{number}}}" if level == "+" else level for number, level in levels)


def _document(heard: EverythingHeard) -> dict[str, Any]:
    news = [{"place": one.place, "text": one.text, "hint": one.hint or None, "over": one.over} for one in heard.news]
    return {"channels": [as_object(one) for one in heard.channels], "news": news}


def _say_what_was_silent(heard: EverythingHeard, context: Context) -> None:
    for one in heard.news:
        if one.over:
            told = f"{one.place}: {one.text.removesuffix('.')}. {one.hint}"
            sheet.say(context, sheet.paragraph(clean(told, 600), sheet.width(context)))
    if any(one.over and IN_USE in one.text for one in heard.news) and alive(context.open_store(), context.clock.now()):
        lines = sheet.paragraph(WATCHED, sheet.width(context))
        sheet.say(context, lines)
    for place, count in heard.unread.items():
        if count == heard.said[place]:
            hint = "a format knows lines like t1=19.4 g=1.048, 19.4;1.048, 19.4, or one JSON object"
            context.say(f"{short(place, 60)}: no numbers in what it says ({hint}).")
    if heard.channels.left_out:
        context.say(
            f"{heard.channels.left_out} numbers more were left out: that many no cellar has. Narrow it by --topic."
        )


def _say_guesses(channels: Sequence[Gathered], context: Context) -> None:
    guesses = (f"{short(one.topic or one.place, 30)}: {guess(one)}" for one in channels)
    lines = [line for one in guesses for line in sheet.paragraph(one, sheet.width(context), mark="  ")]
    sheet.say(context, ["", "Heard:", *lines])
