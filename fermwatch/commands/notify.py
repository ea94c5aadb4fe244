"""`fermwatch notify`: the ways to people, how they do, what they told; and a test of them."""

import argparse
import asyncio
from collections.abc import Callable, Sequence
from typing import NamedTuple

from fermwatch.commands import sheet
from fermwatch.commands.alarm_choice import named
from fermwatch.commands.context import Context
from fermwatch.commands.site import Site, open_site
from fermwatch.commands.watch import load_configuration
from fermwatch.config.load import LoadedNotifier
from fermwatch.errors import InputError, NotifierRefused, NotifierUnavailable
from fermwatch.model.telling import NotifierStatus, Told, Why
from fermwatch.notify.wording import trial_message
from fermwatch.saying import for_programs
from fermwatch.saying.told_of import NO_WAY
from fermwatch.saying.words import RULE_WORDS, moment

LIMIT_S = 60.0
LINES = 12
HINT = "docs/telling.md shows one."
_WHY_WORDS = {
    Why.BEGAN: "began",
    Why.WORSE: "got worse",
    Why.AGAIN: "still so",
    Why.OVER: "over",
    Why.PASSED: "began, and over",
}


class NotifyAct(NamedTuple):
    purpose: str
    run: Callable[[argparse.Namespace, Context], int]


def arguments(parser: argparse.ArgumentParser) -> Sequence[argparse.ArgumentParser]:
    """Gives back the parsers of its parts."""
    parts = parser.add_subparsers(dest="part", metavar="WHAT", title="what", required=True)
    made = {}
    for name, act in ACTS.items():
        made[name] = parts.add_parser(name, help=act.purpose, description=f"{act.purpose[0].upper()}{act.purpose[1:]}.")
        made[name].add_argument("notifier", nargs="?", metavar="NAME", help="as configured; without it, all")
    made["show"].add_argument("--json", action="store_true", help="as JSON")
    return tuple(made.values())


def run(options: argparse.Namespace, context: Context) -> int:
    return ACTS[options.part].run(options, context)


def _show(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        statuses, told = site.reader.notifiers(), site.reader.told()
        if options.notifier is not None:
            statuses = tuple(one for one in statuses if one.name == options.notifier)
            if not statuses:
                raise _unknown(options.notifier, [one.name for one in site.reader.notifiers()])
        if options.json:
            plain = [for_programs.notifier(one, [it for it in told if it.notifier == one.name]) for one in statuses]
            sheet.say_json(context, {"notifiers": plain})
            return 0
        if not statuses:
            sheet.say(context, [f"{NO_WAY} {HINT}"])
            return 0
        sheet.say(context, *(_told_of(one, told, site, sheet.width(context)) for one in statuses))
    return 0


def _told_of(status: NotifierStatus, told: Sequence[Told], site: Site, width: int) -> list[str]:
    words = sorted((one for one in told if one.notifier == status.name), key=lambda one: one.at, reverse=True)
    pairs = [(moment(one.at, site.now, site.voice), _word(one, site)) for one in words[:LINES]]
    return [f"{status.name} (by {status.by}): {_health(status, site)}", *sheet.rows(pairs, width, label=18)]


def _word(one: Told, site: Site) -> str:
    what = RULE_WORDS.get(one.rule, one.rule.replace("-", " "))
    return f"{named(site, one.subject)}: {what}, {_WHY_WORDS[one.why]}"


def _health(status: NotifierStatus, site: Site) -> str:
    if status.failing_since is not None:
        since = moment(status.failing_since, site.now, site.voice)
        return f"carries nothing since {since}: {site.voice.text(status.detail)}"
    if status.told_at is None:
        return "has told nothing yet"
    return f"told something last {moment(status.told_at, site.now, site.voice)}"


def _test(options: argparse.Namespace, context: Context) -> int:
    """Straight from here, by this user: whether the watcher's user may do the same is seen by running it as that."""
    loaded = load_configuration(context)
    wanted = [one for one in loaded.notifiers if options.notifier in {None, one.name}]
    if not wanted:
        if loaded.notifiers:
            raise _unknown(options.notifier, [one.name for one in loaded.notifiers])
        raise InputError(NO_WAY, hint=HINT)
    failed = 0
    for one in wanted:
        why = asyncio.run(_sent(one, loaded.config.site.name, context))
        failed += bool(why)
        told = why or "it was handed over: look whether it arrives."
        sheet.say(context, sheet.paragraph(f"{one.name} (by {one.by}): {told}", sheet.width(context)))
    return 1 if failed else 0


async def _sent(one: LoadedNotifier, site: str, context: Context) -> str:
    """Why it could not be, if so."""
    message = trial_message(site, one.name, context.clock.now())
    try:
        async with asyncio.timeout(LIMIT_S):
            await one.make().send(message)
    except TimeoutError:
        return f"no answer within {LIMIT_S:.0f} s."
    except (NotifierUnavailable, NotifierRefused) as error:
        return str(error)
    return ""


def _unknown(name: str, known: Sequence[str]) -> InputError:
    listed = ", ".join(known) or "none is configured"
    return InputError(f"No notifier is called {name!r:.40}.", hint=f"There is: {listed}.")


ACTS = {
    "show": NotifyAct("how each does, and what it told last", _show),
    "test": NotifyAct("send a test by each, now", _test),
}
