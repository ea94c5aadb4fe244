"""The dashboard, which attaches to the store and may come and go as it likes."""

import argparse
import sys
from collections.abc import Callable
from functools import partial

from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.config.preferences import save_units
from fermwatch.errors import InputError
from fermwatch.inbox.sending import put
from fermwatch.saying.voice import Units


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(needs_nothing=True)


def run(_options: argparse.Namespace, context: Context) -> int:
    return show(context, remember=lambda units: _remember(context, units))


def show(context: Context, *, remember: Callable[[Units], None] | None) -> int:
    """The screen until the person leaves; the exit status. remember: keeps the units that the person turns to."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or context.environment.get("TERM") == "dumb":
        raise InputError("The dashboard needs a terminal.", hint="Use `fermwatch status` here.")
    from fermwatch.dashboard.app import run_dashboard

    place = context.place
    return run_dashboard(
        partial(feed_of, context),
        partial(put, place.store),
        context.user,
        context.clock,
        site=place.site,
        units=context.units,
        remember=remember,
    )


def _remember(context: Context, units: Units) -> None:
    save_units(" ".join(units.words), context.environment)
