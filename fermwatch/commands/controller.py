"""`fermwatch controller`: how far fermwatch may go with a temperature controller, and what it did."""

import argparse
from collections.abc import Callable, Sequence
from typing import NamedTuple

from fermwatch.commands import sheet
from fermwatch.commands.asking import ask, report
from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.commands.site import Site, open_site
from fermwatch.commands.watch import load_configuration
from fermwatch.config.schema import ControllerConfig
from fermwatch.contracts.feed import Lane
from fermwatch.control.degree import OBSERVING, arming_said
from fermwatch.desk import heard
from fermwatch.desk.asking import new_id
from fermwatch.errors import InputError
from fermwatch.inbox.peeking import observe_identity
from fermwatch.model.degree import CAUTION, Degree
from fermwatch.model.quantity import Quantity
from fermwatch.model.subject import About
from fermwatch.requests.controlling import repeats_caution
from fermwatch.requests.shapes import ArmingAsked
from fermwatch.saying import for_programs, words
from fermwatch.saying.asking import let_be
from fermwatch.saying.controlled import ControllerFacts
from fermwatch.saying.regulating import Regulation, regulation
from fermwatch.watching.controls import CONTROL, SWITCHED

CAUTIONS = (
    "fermwatch is no safety device. What is heated needs an independent cut-out, and the controller limits of its own. "
    "Mains power near liquid is work for a licensed electrician, by the local code."
)
BY_OUTPUTS = (
    "A compressor is switched at its plug only where its maker allows it: no inverter fridge. No belt round glass "
    "above or near the liquid line. Off is not safe for beer in a hot room."
)
LINES = 10


class ControllerAct(NamedTuple):
    purpose: str
    run: Callable[[argparse.Namespace, Context], int]


def arguments(parser: argparse.ArgumentParser) -> Sequence[argparse.ArgumentParser]:
    """Gives back the parsers of its parts."""
    parts = parser.add_subparsers(dest="part", metavar="WHAT", title="what", required=True)
    made = {}
    for name, act in ACTS.items():
        made[name] = parts.add_parser(name, help=act.purpose, description=f"{act.purpose[0].upper()}{act.purpose[1:]}.")
    made["show"].add_argument("controller", nargs="?", metavar="NAME", help="its source's name; without it, all")
    made["show"].add_argument("--json", action="store_true", help="as JSON")
    for name in ("arm", "observe"):
        made[name].add_argument("controller", metavar="NAME", help="its source's name")
    made["arm"].add_argument("--repeat", metavar="CAUTION", help="the caution, word for word, in place of being asked")
    return tuple(made.values())


def run(options: argparse.Namespace, context: Context) -> int:
    return ACTS[options.part].run(options, context)


def _arm(options: argparse.Namespace, context: Context) -> int:
    """Let it go as far as the configuration allows, within its limits, after the caution was repeated."""
    said = _configured(context, options.controller)
    if said.degree is Degree.OBSERVE:
        raise InputError(
            f"The configuration lets fermwatch only observe {said.source}.",
            hint='Write degree = "set", low_c and high_c into its [[controller]], and restart the watcher.',
        )
    cautions = f"{CAUTIONS} {BY_OUTPUTS}" if said.degree is Degree.DRIVE else CAUTIONS
    sheet.say(context, sheet.paragraph(cautions, sheet.width(context), mark="! "))
    repeated = options.repeat if options.repeat is not None else _asked(context)
    if not repeats_caution(repeated):
        raise InputError("It was not armed.", hint=f'Repeat the caution word for word: "{CAUTION}"')
    reply = ask(context, ArmingAsked(said.source, said.degree, repeated))
    follow = f"fermwatch {'switches' if said.degree is Degree.DRIVE else 'sets'} {said.source} by the plan"
    done = f"Armed: {follow} of what is in {said.vessel}."
    return report(context, reply, f"{done} Back, at once: fermwatch controller observe {said.source}")


def _asked(context: Context) -> str:
    import sys

    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise InputError("It was not armed: this asks first, and there is no terminal to ask at.", hint="See --repeat.")
    context.say(f'To arm it, repeat: "{CAUTION}"')
    try:
        return input("> ")
    except EOFError:
        return ""


def _observe(options: argparse.Namespace, context: Context) -> int:
    """Write nothing any more; it is heard while it waits, whatever else the watcher has to do."""
    asked = ArmingAsked(options.controller, Degree.OBSERVE)
    reply = ask(context, asked, identity=observe_identity(options.controller, new_id(context.clock.now())))
    return report(context, reply, let_be([options.controller]))


def _show(options: argparse.Namespace, context: Context) -> int:
    known = load_configuration(context).config.controller
    if options.controller is not None:
        known = (_configured(context, options.controller),)
    lanes = {} if options.json or not known else _lanes(context)
    with open_site(context) as site:
        if options.json:
            plain = [for_programs.controller(_facts(one, site)) for one in known]
            sheet.say_json(context, {"controllers": plain})
        elif not known:
            sheet.say(context, "No controller: a source that can be asked becomes one by a [[controller]].")
        else:
            size = sheet.width(context)
            sheet.say(context, *(_shown(_facts(one, site), lanes.get(one.vessel), site, size) for one in known))
    return 0


def _lanes(context: Context) -> dict[str, Lane]:
    feed = feed_of(context)
    try:
        return {lane.vessel.slug: lane for lane in feed.snapshot(context.clock.now()).lanes}
    finally:
        feed.close()


def _shown(facts: ControllerFacts, lane: Lane | None, site: Site, size: int) -> list[str]:
    """First whether it manages, and what to do, as the dashboard's page says it."""
    said = [] if lane is None else sheet.paragraph(_manages(regulation(lane, site.now, site.voice)), size)
    return [*said, *sheet.rows(_pairs(facts, site), size)]


def _manages(found: Regulation) -> str:
    return " ".join(part for part in (found.headline.mark, found.headline.text, found.to_do) if part)


def _pairs(facts: ControllerFacts, site: Site) -> list[tuple[str, str]]:
    voice, limits = site.voice, "none: it is never written to"
    by = f", by {voice.text(facts.by, 40)} {words.moment(facts.since, site.now, voice)}" if facts.since else ""
    if facts.low_c is not None and facts.high_c is not None:
        limits = voice.temperature_range(facts.low_c, facts.high_c)
    target = "not known: no [[probe]] reads it" if facts.set_point_c is None else voice.temperature(facts.set_point_c)
    pairs = [
        ("controller", f"{facts.name}, of {facts.vessel}"),
        ("may", f"{facts.degree}{by}"),
        ("at most", f"{facts.at_most}, by the configuration"),
        ("limits", limits),
        ("set point", target),
    ]
    pairs += [
        ("" if index else "done", f"{words.moment(entry.at, site.now, voice)}: {voice.text(entry.text)}")
        for index, entry in enumerate(facts.written)
    ]
    return pairs


def _facts(one: ControllerConfig, site: Site) -> ControllerFacts:
    """What somebody said last holds, as far as the configuration still allows it."""
    reader, subject = site.reader, About.CONTROLLER.of(one.source)
    said = reader.journal(kind="request", subject=subject, limit=1)
    arming = arming_said(said[0].text, said[0].at) if said else OBSERVING
    if arming.degree not in {Degree.OBSERVE, one.degree}:
        arming = OBSERVING
    shown = next((known.set_point_c for known in reader.controllers() if known.name == one.source), None)
    return ControllerFacts(
        one.source,
        one.vessel,
        arming.degree,
        arming.by,
        arming.at,
        one.degree,
        one.low_c,
        one.high_c,
        shown if shown is not None else heard.newest(reader, one.vessel, Quantity.SET_POINT, site.now),
        reader.journal(kind=SWITCHED if one.degree is Degree.DRIVE else CONTROL, subject=subject, limit=LINES),
    )


def _configured(context: Context, name: str) -> ControllerConfig:
    known = load_configuration(context).config.controller
    found = next((one for one in known if one.source == name), None)
    if found is None:
        listed = ", ".join(one.source for one in known) or "none is configured"
        raise InputError(f"There is no controller {name!r:.40}: {listed}.", hint="See fermwatch check.")
    return found


ACTS = {
    "show": ControllerAct("what it may, who said so, what was written", _show),
    "arm": ControllerAct("let it follow the plan, as far as the configuration allows", _arm),
    "observe": ControllerAct("write nothing any more, at once", _observe),
}
