"""The dashboard from its start in a terminal until the person leaves."""

import gc
import os
import sys
from collections.abc import Callable, Mapping

from fermwatch.clock import Clock
from fermwatch.contracts.feed import Feed
from fermwatch.dashboard import terminal
from fermwatch.dashboard.app import NO_INSTRUMENTS, Dashboard, Remember, RememberLook
from fermwatch.dashboard.channel import POLL_S
from fermwatch.dashboard.colours import Colours
from fermwatch.dashboard.writing import Ask, Prepare
from fermwatch.saying.voice import CANONICAL, Units

NO_TERMINAL = 2


def run_dashboard(
    open_feed: Callable[[], Feed],
    ask: Ask | None,
    user: str,
    clock: Clock,
    *,
    site: str,
    units: Units = CANONICAL,
    remember: Remember | None = None,
    look: Colours | None = None,
    remember_look: RememberLook | None = None,
    prepare: Prepare | None = None,
    poll_s: float = POLL_S,
    bell: bool = True,
    instruments: Mapping[str, str] = NO_INSTRUMENTS,
    notice: str = "",
) -> int:
    """Show the dashboard until the person leaves; returns the exit status.

    remember keeps the units that the person turns to; ConfigError where it cannot. None: they hold until then.
    look: None for what suits the terminal; remember_look keeps what the person turns to.
    poll_s: how often the store is looked at. bell: whether the terminal's rings for an alarm that is new.
    instruments: the kinds of this person's own, by their names. notice: what to tell first.

    open_feed is called in the reader's own thread, again and again while it raises StoreError. ask keeps a request
    (None for somebody who may only look) and raises StoreError naming the remedy.
    """
    if terminal.is_dumb(os.environ) or not (sys.stdin.isatty() and sys.stdout.isatty()):
        sys.stderr.write("This terminal cannot show the dashboard: use `fermwatch status`.\n")
        return NO_TERMINAL
    gc.disable()  # until the first frame: nothing that is made by then is let go
    app = Dashboard(
        open_feed,
        ask,
        user,
        clock,
        site=site,
        ascii_only=terminal.needs_ascii(os.environ),
        units=units,
        remember=remember,
        look=look or (Colours.TERMINAL if terminal.has_few_colours(os.environ) else Colours.DARK),
        remember_look=remember_look,
        prepare=prepare,
        poll_s=poll_s,
        bell=bell,
        instruments=instruments,
        notice=notice,
    )
    with app.heeding_signals():
        app.run()
    return app.return_code or 0
