"""The terminal's part of writing something in: the windows, and the two threads that look and keep."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from textual.app import App

from fermwatch.clock import Clock
from fermwatch.contracts.inbox import Request
from fermwatch.dashboard.events import (
    AskWhatToWrite,
    FormOpened,
    Happening,
    Keep,
    LookAt,
    Looked,
    NotTaken,
    RequestsKept,
    Writes,
)
from fermwatch.dashboard.messages import EventHeard
from fermwatch.errors import FermwatchError
from fermwatch.saying.voice import Units, Voice

if TYPE_CHECKING:  # not before somebody writes something in
    from fermwatch.dashboard.forms.form import OpenForm
    from fermwatch.dashboard.screens.form import FormScreen
    from fermwatch.desk.prepared import Prepared

Ask = Callable[[Request], None]
Said = Mapping[str, str | bool | list[str]]
Prepare = Callable[[str, Said, Units], "Prepared"]


class Writing:
    """ask keeps a request, prepare says what the store makes of what a form says; None for who may only look."""

    def __init__(
        self, app: App[None], ask: Ask | None, prepare: Prepare | None, *, site: str, user: str, clock: Clock
    ) -> None:
        self._app, self._ask, self._prepare = app, ask, prepare
        self._site, self._user, self._clock = site, user, clock
        self._window: FormScreen | None = None

    def show(self, form: "OpenForm | None", voice: Voice) -> None:
        """A form's window is there while the form is."""
        if form is None:
            if self._window is not None:
                self._window.dismiss()
            self._window = None
        elif self._window is None:
            from fermwatch.dashboard.screens.form import FormScreen

            self._app.clear_notifications()  # they would stand over its lowest rows
            self._window = FormScreen(form, voice)
            self._app.push_screen(self._window)
        else:
            self._window.show(form)

    def step(self, by: int) -> None:
        if self._window is not None:
            self._window.step(by)

    def carry_out(self, effect: Writes, units: Units, voice: Voice) -> None:
        match effect:
            case AskWhatToWrite():
                self._ask_what(effect, voice)
            case LookAt():
                self._in_thread(partial(self._looked, effect, units), "looking")
            case Keep():
                self._in_thread(partial(self._kept, effect), "asking")

    def _ask_what(self, asked: AskWhatToWrite, voice: Voice) -> None:
        from fermwatch.dashboard.screens.form import WhatToWrite

        def chosen(kind: str | None) -> None:
            if kind is not None:
                self._app.post_message(EventHeard(FormOpened(kind, asked.subject)))

        self._app.push_screen(WhatToWrite(asked.about, asked.kinds, voice), chosen)

    def _in_thread(self, work: Callable[[], Happening], group: str) -> None:
        """The store is asked, and the inbox is a file: away from the loop."""

        def told() -> None:
            self._app.post_message(EventHeard(work()))

        self._app.run_worker(told, thread=True, group=group, exit_on_error=True)

    def _looked(self, look: LookAt, units: Units) -> Happening:
        if self._prepare is None:
            return NotTaken(look.draft, "Nothing can be written in from here.")
        try:
            return Looked(look.draft, self._prepare(look.command, look.said, units))
        except FermwatchError as error:
            return NotTaken(look.draft, error.message, error.hint)

    def _kept(self, keep: Keep) -> Happening:
        """Only once the inbox has it, it is said to be kept."""
        from fermwatch.desk.asking import request

        if self._ask is None:
            return NotTaken(keep.draft, "Nothing can be written in from here.")
        sent = request(keep.prepared.asked, site=self._site, user=self._user, now=self._clock.now())
        try:
            self._ask(sent)
        except FermwatchError as error:
            return NotTaken(keep.draft, error.message, error.hint)
        return RequestsKept((sent.key,), keep.prepared.done, keep.draft)
