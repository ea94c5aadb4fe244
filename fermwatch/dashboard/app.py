"""The dashboard's wiring: the reader thread, the one live view, the screens, and the keys."""

import asyncio
import contextlib
import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from types import FrameType
from typing import ClassVar, Protocol, runtime_checkable

from textual import on, work
from textual.app import App
from textual.binding import Binding, BindingType
from textual.screen import Screen

from fermwatch.clock import Clock
from fermwatch.contracts.feed import Feed
from fermwatch.contracts.inbox import Request
from fermwatch.dashboard import live, terminal
from fermwatch.dashboard.live import CursorMoved, LiveView, UnitsTurned
from fermwatch.dashboard.messages import Asked, RequestFailed, RequestKept, StoreSpoke
from fermwatch.dashboard.reader import Reader
from fermwatch.dashboard.screens.overview import Overview
from fermwatch.dashboard.theme import DARK, LIGHT, THEMES
from fermwatch.errors import FermwatchError
from fermwatch.model.finding import Alarm
from fermwatch.saying.voice import CANONICAL, Units, Voice

Ask = Callable[[Request], None]
Remember = Callable[[Units], None]

NO_TERMINAL = 2
END_WITHIN_S = 3.0
VIEWER_ONLY = "You may look, not answer: ask for a place in the group `fermwatch` on this machine."


@runtime_checkable
class ShowsView(Protocol):
    """A screen that is redrawn with every new view."""

    def show(self, view: LiveView) -> None: ...


class Dashboard(App[None]):
    TITLE = "fermwatch"
    CSS_PATH = "styles/dashboard.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("q", "quit", "quit", id="quit"),
        Binding("up,k", "move(-1)", "up", show=False, id="lane-up"),
        Binding("down,j", "move(1)", "down", show=False, id="lane-down"),
        Binding("enter", "open_lane", "open", key_display="enter", id="open"),
        Binding("a", "acknowledge", "alarm seen", id="acknowledge"),
        Binding("u", "turn_units", "units", id="units"),
        Binding("t", "turn_theme", "dark/light", id="theme"),
        Binding("question_mark", "help", "help", key_display="?", id="help"),
    ]

    def __init__(
        self,
        open_feed: Callable[[], Feed],
        ask: Ask | None,
        user: str,
        clock: Clock,
        *,
        site: str,
        ascii_only: bool = False,
        units: Units = CANONICAL,
        remember: Remember | None = None,
    ) -> None:
        super().__init__()
        self._ask, self._user, self._clock, self._site, self._remember = ask, user, clock, site, remember
        self.view = LiveView(ascii=ascii_only, units=units)
        self._told_loop: asyncio.AbstractEventLoop | None = None
        self._ended_by = 0
        self._reader = Reader(open_feed, clock, lambda event: self.post_message(StoreSpoke(event)))
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = DARK.name
        self.set_class(ascii_only, "-typed")

    def get_default_screen(self) -> Screen[None]:
        return Overview(self.view)

    def on_mount(self) -> None:
        self._told_loop = asyncio.get_running_loop()
        if self._ended_by:  # a signal came before there was a loop to tell
            self.exit(return_code=self._ended_by)
            return
        self._reader.start()
        self.call_after_refresh(_collect_again)

    def on_unmount(self) -> None:
        self._reader.stop()

    @contextlib.contextmanager
    def heeding_signals(self) -> Iterator[None]:
        """From before the terminal is changed until it is put back.

        Not the loop's own handlers: it may wait for a terminal that is gone.
        """
        before = {number: signal.signal(number, self._signalled) for number in (signal.SIGTERM, signal.SIGHUP)}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _signalled(self, number: int, _frame: FrameType | None) -> None:
        """The terminal is put back before the process ends, as on any other way out; but end it does."""
        self._ended_by = 128 + number
        if self._told_loop is not None:
            with contextlib.suppress(RuntimeError):  # it is closed: the end has come already
                self._told_loop.call_soon_threadsafe(partial(self.exit, return_code=self._ended_by))
        last_resort = threading.Timer(END_WITHIN_S, os._exit, (self._ended_by,))
        last_resort.daemon = True
        last_resort.start()

    @on(StoreSpoke)
    @on(Asked)
    def _absorb(self, message: StoreSpoke | Asked) -> None:
        self._become(live.absorb(self.view, message.event))

    def _become(self, view: LiveView) -> None:
        if view is self.view:
            return
        self.view = view
        for screen in self.screen_stack:
            if isinstance(screen, ShowsView):
                screen.show(view)

    def action_move(self, by: int) -> None:
        self._become(live.absorb(self.view, CursorMoved(by)))

    def action_turn_units(self) -> None:
        self._become(live.absorb(self.view, UnitsTurned()))
        if self._remember is not None:
            self._keep_units(self._remember, self.view.units)

    @work(thread=True, group="units", exit_on_error=True)
    def _keep_units(self, remember: Remember, units: Units) -> None:
        """The next dashboard, and every text command, speaks so too."""
        try:
            remember(units)
        except FermwatchError as error:
            self.post_message(RequestFailed(f"The units hold until you leave: {error}"))

    def action_turn_theme(self) -> None:
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name

    def action_help(self) -> None:
        from fermwatch.dashboard.screens.dialogs import Help

        if not isinstance(self.screen, Help):
            self.push_screen(Help(ascii_only=self.view.ascii))

    def action_open_lane(self) -> None:
        from fermwatch.dashboard.screens.detail import Detail

        if isinstance(self.screen, Overview) and self.view.lane is not None:
            self.push_screen(Detail(self.view))

    async def action_back(self) -> None:
        if len(self.screen_stack) > 1:
            self.pop_screen()

    def action_acknowledge(self) -> None:
        """What waits at the cursor, of the site, or of packaged beers; which one is asked where there are several."""
        alarms = self.view.waiting
        if self._ask is None:
            self._say(VIEWER_ONLY, severe=True)
        elif not alarms:
            self._say("No alarm here waits to be seen.")
        elif len(alarms) == 1:
            self._send(alarms)
        else:
            from fermwatch.dashboard.screens.dialogs import ChooseAlarms

            self.push_screen(ChooseAlarms(alarms, Voice(self.view.units, self.view.ascii)), self._send)

    def _send(self, alarms: tuple[Alarm, ...] | None) -> None:
        if alarms and self._ask is not None:
            from fermwatch.dashboard.acknowledging import acknowledgement

            self._keep(self._ask, tuple(acknowledgement(one, self._site, self._user, self._clock) for one in alarms))

    @work(thread=True, group="asking", exit_on_error=True)
    def _keep(self, ask: Ask, requests: tuple[Request, ...]) -> None:
        """The inbox is a file: it is written away from the loop."""
        try:
            for request in requests:
                ask(request)
        except FermwatchError as error:
            self.post_message(RequestFailed(str(error)))
        else:
            self.post_message(RequestKept("Seen: the watcher notes it down."))

    @on(RequestKept)
    def _kept(self, message: RequestKept) -> None:
        self._say(message.text)

    @on(RequestFailed)
    def _failed(self, message: RequestFailed) -> None:
        self._say(message.text, severe=True)

    def _say(self, text: str, *, severe: bool = False) -> None:
        shown = Voice(self.view.units, self.view.ascii).text(text)
        self.notify(shown, severity="error" if severe else "information", timeout=6, markup=False)


def _collect_again() -> None:
    """What the start made stays for good, and is not looked through again."""
    gc.freeze()
    gc.enable()


def run_dashboard(
    open_feed: Callable[[], Feed],
    ask: Ask | None,
    user: str,
    clock: Clock,
    *,
    site: str,
    units: Units = CANONICAL,
    remember: Remember | None = None,
) -> int:
    """Show the dashboard until the person leaves; returns the exit status.

    remember keeps the units that the person turns to; ConfigError where it cannot.

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
    )
    with app.heeding_signals():
        app.run()
    return app.return_code or 0
