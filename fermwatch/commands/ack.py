"""`fermwatch ack`: an alarm was seen. This occurrence falls silent; a new one asks again."""

import argparse

from fermwatch.commands.alarm_choice import choose, named
from fermwatch.commands.asking import ask, report
from fermwatch.commands.context import Context
from fermwatch.commands.site import open_site
from fermwatch.requests.shapes import Acknowledging


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("rule", help="the alarm's rule, as `fermwatch alarms` shows it")
    parser.add_argument("where", nargs="?", help="the fermenter, probe, source or batch, where several have it")


def run(options: argparse.Namespace, context: Context) -> int:
    with open_site(context) as site:
        alarm = choose(site, options.rule, options.where, seen_too=False)
        about = named(site, alarm.subject)
    outcome = ask(context, Acknowledging(alarm.rule, alarm.subject))
    return report(context, outcome, f"Acknowledged {alarm.rule} of {about}.")
