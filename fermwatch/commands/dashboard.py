"""The dashboard, which attaches to the store and may come and go as it likes."""

import argparse
import sys
from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING

from fermwatch.commands.context import Context
from fermwatch.commands.mistaken import feed_of
from fermwatch.config.instruments import own_instruments
from fermwatch.config.preferences import save_look, save_units, saved_look
from fermwatch.errors import FermwatchError, InputError
from fermwatch.inbox.sending import may_put, put
from fermwatch.saying.voice import Units

if TYPE_CHECKING:
    from fermwatch.desk.prepared import Prepared


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.set_defaults(needs_nothing=True)
    parser.add_argument("--low-bandwidth", action="store_true", help="look at the store every ten seconds alone")
    parser.add_argument("--no-bell", action="store_true", help="let the terminal's bell be still when an alarm is new")


def run(options: argparse.Namespace, context: Context) -> int:
    still = getattr(options, "no_bell", False)
    return show(context, keeps=True, seldom=getattr(options, "low_bandwidth", False), bell=not still)


def show(context: Context, *, keeps: bool, seldom: bool = False, bell: bool = True) -> int:
    """The screen until the person leaves; the exit status. keeps: units and colours that the person turns to. seldom:
    it changes every ten seconds at most, but for what is asked of it."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or context.environment.get("TERM") == "dumb":
        raise InputError("The dashboard needs a terminal.", hint="Use `fermwatch status` here.")
    from fermwatch.dashboard.channel import POLL_S, SELDOM_S
    from fermwatch.dashboard.colours import Colours
    from fermwatch.dashboard.run import run_dashboard

    instruments, notice = _instruments(context)
    place, look = context.place, saved_look(context.environment)
    return run_dashboard(
        partial(feed_of, context),
        partial(put, place.store) if may_put(place.store, place.site) else None,
        context.user,
        context.clock,
        site=place.site,
        units=context.units,
        remember=partial(_remember, context) if keeps else None,
        look=Colours(look) if look in set(Colours) else None,
        remember_look=partial(_remember_look, context) if keeps else None,
        prepare=partial(_prepared, context),
        poll_s=SELDOM_S if seldom else POLL_S,
        bell=bell,
        instruments=instruments,
        notice=notice,
    )


def _instruments(context: Context) -> tuple[dict[str, str], str]:
    """The kinds of this person's own, by their names, and what is wrong with them: that keeps nobody from looking."""
    try:
        return {name: one.kind.value for name, one in own_instruments(context.environment).items()}, ""
    except FermwatchError as error:
        return {}, str(error)


def _prepared(context: Context, command: str, said: Mapping[str, str | bool | list[str]], units: Units) -> "Prepared":
    from fermwatch.commands.written_in import prepare  # not before something is written in

    return prepare(context, command, said, units)


def _remember(context: Context, units: Units) -> None:
    save_units(" ".join(units.words), context.environment)


def _remember_look(context: Context, look: str) -> None:
    save_look(look, context.environment)
