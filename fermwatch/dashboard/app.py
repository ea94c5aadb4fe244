"""The dashboard's wiring: the reader thread, the one live view, the screens, and the keys."""

import asyncio
import contextlib
import gc
import os
import signal
import threading
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC
from functools import partial
from types import FrameType
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.app import App
from textual.binding import BindingType
from textual.screen import ModalScreen, Screen

from fermwatch.clock import Clock
from fermwatch.contracts.feed import Feed
from fermwatch.contracts.inbox import Request
from fermwatch.dashboard import actions, state
from fermwatch.dashboard.bindings import bindings
from fermwatch.dashboard.channel import POLL_S, Channel
from fermwatch.dashboard.colours import Colours
from fermwatch.dashboard.events import (
    Acknowledge,
    AskQuiet,
    AskWhatToWrite,
    AskWhich,
    AwaitOutcomes,
    Do,
    Effect,
    Failed,
    Happening,
    Keep,
    KeepLook,
    KeepUnits,
    LetBe,
    LookAt,
    MoveInWindow,
    RequestsKept,
    Tell,
    WaitedLong,
)
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.messages import EventHeard
from fermwatch.dashboard.screens.page import PageScreen
from fermwatch.dashboard.state import State
from fermwatch.dashboard.theme import THEMES
from fermwatch.dashboard.writing import Ask, Prepare, Writing
from fermwatch.errors import FermwatchError
from fermwatch.model.finding import Alarm
from fermwatch.saying import asking
from fermwatch.saying.voice import CANONICAL, Units, Voice, zone_of

if TYPE_CHECKING:
    from fermwatch.requests.shapes import Asked  # not before something is asked

Remember = Callable[[Units], None]
RememberLook = Callable[[Colours], None]

NO_INSTRUMENTS: Mapping[str, str] = {}
END_WITHIN_S = 3.0
WAIT_S = 4.0  # for the outcome of a request, until it is said that there is none yet


class Dashboard(App[None]):
    TITLE = "fermwatch"
    CSS_PATH = "styles/dashboard.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of_pages())

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
        look: Colours = Colours.DARK,
        remember_look: RememberLook | None = None,
        prepare: Prepare | None = None,
        poll_s: float = POLL_S,
        bell: bool = True,
        instruments: Mapping[str, str] = NO_INSTRUMENTS,
        notice: str = "",
    ) -> None:
        # Without colour (no-color.org) the terminal's own two are left as they are; Textual would send greys for them.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self._ask, self._user, self._clock, self._site = ask, user, clock, site
        self._remember, self._remember_look = remember, remember_look
        self._writing = Writing(self, ask, prepare, site=site, user=user, clock=clock)
        known = Known(ascii=ascii_only, units=units, look=look, may_ask=ask is not None, instruments=instruments)
        self.state = State(known)
        self._bell, self._notice = bell, notice
        self._told_loop: asyncio.AbstractEventLoop | None = None
        self._ended_by = 0
        self._channel = Channel(open_feed, clock, lambda event: self.post_message(EventHeard(event)), poll_s=poll_s)
        for theme in THEMES.values():
            self.register_theme(theme)
        self.theme = THEMES[look].name
        self.set_class(ascii_only, "-typed")

    def get_default_screen(self) -> Screen[None]:
        return PageScreen(self.state.known, self.state.page)

    def on_mount(self) -> None:
        self._told_loop = asyncio.get_running_loop()
        if self._ended_by:  # a signal came before there was a loop to tell
            self.exit(return_code=self._ended_by)
            return
        self._channel.start()
        if self._notice:
            self._say(self._notice, severe=True)
        self.call_after_refresh(_collect_again)

    def on_unmount(self) -> None:
        self._channel.stop()

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

    @on(EventHeard)
    def _heard(self, message: EventHeard) -> None:
        self.absorb(message.event)

    def action_act(self, name: str) -> None:
        self.absorb(actions.named(name).event)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What is for some pages is there on those alone."""
        return action != "act" or actions.named(str(parameters[0])).is_there(self.state.page.NAME)

    def absorb(self, event: Happening) -> None:
        """Let something happen: draw what it changed, and do what it asks for."""
        before = self.state
        self.state, effects = state.absorb(before, event)
        if self.state is not before:
            self._show()
            self._channel.want(self.state.wants(), quick=self.state.looks_out)
        for effect in effects:
            self._carry_out(effect)

    def _show(self) -> None:
        """A screen for every page that is open, each with what it is now."""
        known, pages = self.state.known, self.state.pages
        self.theme = THEMES[known.look].name
        screens = [screen for screen in self.screen_stack if isinstance(screen, PageScreen)]
        fitting = [screen for screen, page in zip(screens, pages, strict=False) if screen.scrolls is page.SCROLLS]
        for _ in screens[len(fitting) :]:
            self.pop_screen()
        for screen, page in zip(fitting, pages, strict=False):
            screen.show(known, page, covered=page is not pages[-1])
        for page in pages[len(fitting) :]:
            self.push_screen(PageScreen(known, page))
        self._writing.show(self.state.form, self._voice())

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Tell(text, severe):
                self._say(text, severe=severe)
            case AskWhich(alarms):
                self._ask_which(alarms)
            case AskWhatToWrite() | LookAt() | Keep():
                self._writing.carry_out(effect, self.state.known.units, self._voice())
            case AskQuiet(alarm):
                self._ask_quiet(alarm)
            case Acknowledge(alarms):
                self._send(alarms)
            case LetBe(controllers):
                self._let_be(controllers)
            case KeepUnits() | KeepLook():
                self.clear_notifications()  # of what was turned to before this
                self._turned(effect)
            case AwaitOutcomes(request_keys):
                self.set_timer(WAIT_S, partial(self.absorb, WaitedLong(request_keys)))
            case MoveInWindow(by):
                self._move_in_window(by)
            case Do():
                self._do(effect)

    def _do(self, done: Do) -> None:
        match done:
            case Do.SEARCH | Do.SHOW_PALETTE:
                self._find(to_do=done is Do.SHOW_PALETTE)
            case Do.SHOW_HELP:
                self._help()
            case Do.CLOSE_WINDOW:
                if isinstance(self.screen, ModalScreen):
                    self.screen.dismiss()
            case Do.FIELD_NEXT | Do.FIELD_BEFORE:
                self._writing.step(1 if done is Do.FIELD_NEXT else -1)
            case Do.RING:
                if self._bell:
                    self.bell()
            case Do.LEAVE:
                self.exit()

    def _turned(self, turned: KeepUnits | KeepLook) -> None:
        if isinstance(turned, KeepLook):
            look = turned.look
            self._say(f"Now {look.named}. Next by t: {look.next.named}.")
            if self._remember_look is not None:
                self._keep_look(self._remember_look, look)
            return
        kept = "until you leave" if self._remember is None else "also for bare numbers that you type"
        self._say(f"Now {turned.units.named}, {kept}. Next by u: {turned.then.named}.")
        if self._remember is not None:
            self._keep_units(self._remember, turned.units)

    @work(thread=True, group="units", exit_on_error=True)
    def _keep_units(self, remember: Remember, units: Units) -> None:
        """The next dashboard, and every text command, speaks so too."""
        try:
            remember(units)
        except FermwatchError as error:
            self.post_message(EventHeard(Failed(f"The units hold until you leave: {error}")))

    @work(thread=True, group="units", exit_on_error=True)
    def _keep_look(self, remember: RememberLook, look: Colours) -> None:
        try:
            remember(look)
        except FermwatchError as error:
            self.post_message(EventHeard(Failed(f"These colours hold until you leave: {error}")))

    def _help(self) -> None:
        from fermwatch.dashboard.screens.dialogs import Help

        self.push_screen(Help(self.state.page.NAME, ascii_only=self.state.known.ascii))

    def _find(self, *, to_do: bool) -> None:
        """By a few letters; what was chosen happens as if its key had been pressed."""
        from fermwatch.dashboard import finding
        from fermwatch.dashboard.screens.finder import Finder

        if to_do:
            entries = finding.deeds(self.state.page.NAME)
            window = Finder(entries, "what do you want to do?", "Nothing here is called so.")
        else:
            entries = finding.places(self.state.known, self._voice())
            window = Finder(entries, "which fermenter, which beer?", "No fermenter and no open batch is called so.")
        self.push_screen(window, self._found)

    def _found(self, event: Happening | None) -> None:
        if event is not None:
            self.absorb(event)

    def _move_in_window(self, by: int) -> None:
        from fermwatch.dashboard.screens.finder import Finder

        if isinstance(self.screen, Finder):
            self.screen.move(by)

    def _ask_which(self, alarms: tuple[Alarm, ...]) -> None:
        from fermwatch.dashboard.screens.dialogs import ChooseAlarms

        self.push_screen(ChooseAlarms(alarms, self._voice()), self._send)

    def _ask_quiet(self, alarm: Alarm) -> None:
        from fermwatch.dashboard.screens.dialogs import Quieten

        snapshot = self.state.known.snapshot
        if snapshot is None:
            return
        voice = Voice(self.state.known.units, self.state.known.ascii, zone_of(snapshot.timezone))
        self.push_screen(Quieten(alarm, snapshot.now, voice), self._quieten)

    def _quieten(self, asked: "Asked | None") -> None:
        if asked is not None and self._ask is not None:
            from fermwatch.desk.asking import request
            from fermwatch.desk.quietening import done

            sent = request(asked, site=self._site, user=self._user, now=self._clock.now())
            self._keep(self._ask, (sent,), done(asked))

    def _send(self, alarms: tuple[Alarm, ...] | None) -> None:
        if alarms and self._ask is not None:
            from fermwatch.desk.asking import request
            from fermwatch.requests.shapes import Acknowledging

            asked = (Acknowledging(one.rule, one.subject) for one in alarms)
            now = self._clock.now()
            sent = tuple(request(one, site=self._site, user=self._user, now=now) for one in asked)
            self._keep(self._ask, sent, asking.SEEN)

    def _let_be(self, controllers: tuple[str, ...]) -> None:
        """By requests whose very names are heard while they wait, however busy the watcher is."""
        if self._ask is not None:
            from fermwatch.desk.asking import observing

            now = self._clock.now()
            sent = tuple(observing(one, site=self._site, user=self._user, now=now) for one in controllers)
            self._keep(self._ask, sent, asking.let_be(controllers))

    @work(thread=True, group="asking", exit_on_error=True)
    def _keep(self, ask: Ask, requests: tuple[Request, ...], done: str) -> None:
        """The inbox is a file: it is written away from the loop."""
        try:
            for request in requests:
                ask(request)
        except FermwatchError as error:
            self.post_message(EventHeard(Failed(str(error))))
        else:
            self.post_message(EventHeard(RequestsKept(tuple(one.key for one in requests), done)))

    def _voice(self) -> Voice:
        known = self.state.known
        zone = UTC if known.snapshot is None else zone_of(known.snapshot.timezone)
        return Voice(known.units, known.ascii, zone)

    def _say(self, text: str, *, severe: bool = False) -> None:
        self.notify(self._voice().text(text), severity="error" if severe else "information", timeout=6, markup=False)


def _collect_again() -> None:
    """What the start made stays for good, and is not looked through again."""
    gc.freeze()
    gc.enable()
