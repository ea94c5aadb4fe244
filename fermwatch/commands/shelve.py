"""`fermwatch shelve`: an alarm is quiet for a while, with an end; it goes on being evaluated and recorded."""

import argparse
import re
from datetime import timedelta

from fermwatch.commands.alarm_choice import choose
from fermwatch.commands.asking import ask, report
from fermwatch.commands.context import Context
from fermwatch.commands.site import open_site
from fermwatch.errors import InputError
from fermwatch.requests.shapes import Service, Shelving, Unshelving
from fermwatch.saying.words import moment

SPAN = re.compile(r"(\d{1,4})\s*(min|h)", re.ASCII)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("rule", help="the alarm's rule, as `fermwatch alarms` shows it")
    parser.add_argument("where", nargs="?", help="the fermenter, probe, source or batch, where several have it")
    how = parser.add_mutually_exclusive_group(required=True)
    how.add_argument("--for", dest="span", metavar="TIME", help="how long: 90min, 6h; at most 24h")
    how.add_argument("--end", action="store_true", help="take it off the shelf now")
    how.add_argument("--out-of-service", action="store_true", help="quiet until it is put back, and shown so")
    how.add_argument("--back-in-service", action="store_true", help="put it back into service")


def run(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        alarm = choose(site, options.rule, options.where, seen_too=True)
        until = site.now + _span(options.span) if options.span else None
        end = moment(until, site.now, site.voice) if until is not None else ""
    name = f"{alarm.rule} of {alarm.subject}"
    if until is not None:
        outcome = ask(context, Shelving(alarm.rule, alarm.subject, until))
        return report(context, outcome, f"Shelved {name} until {end}.")
    if options.end:
        return report(context, ask(context, Unshelving(alarm.rule, alarm.subject)), f"{name} is off the shelf.")
    out = bool(options.out_of_service)
    outcome = ask(context, Service(alarm.rule, alarm.subject, out))
    return report(context, outcome, f"{name} is {'out of' if out else 'back in'} service.")


def _span(text: str) -> timedelta:
    match = SPAN.fullmatch(text.strip())
    if match is None:
        raise InputError(f"--for {text[:20]!r} is no time.", hint="Say 90min or 6h.")
    number = int(match[1])
    return timedelta(minutes=number) if match[2] == "min" else timedelta(hours=number)
