"""The window of a form, over the lower part of a page: its fields, and under them what is wrong or asked.

Nothing is decided here: what is typed becomes an event, and the form that is shown is a value.
"""

from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from fermwatch.dashboard import actions
from fermwatch.dashboard.bindings import bindings
from fermwatch.dashboard.events import FieldTyped
from fermwatch.dashboard.forms import sheet
from fermwatch.dashboard.forms.form import OpenForm, Stage
from fermwatch.dashboard.forms.table import FormField
from fermwatch.dashboard.messages import EventHeard
from fermwatch.dashboard.screens.page import TypedScrollBar
from fermwatch.dashboard.widgets.paper import Paper
from fermwatch.drawing.lines import Line, Span
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice
from fermwatch.text import clean

LONGEST = 500  # characters of what is typed: as many as the watcher keeps
WIDEST = 100  # cells of the window
FRAME = 4  # rows: its border, its title and its keys
BESIDE = 7  # cells of the window that no text has: its border, its padding, and a scroll bar
KEYS = {
    Stage.FILLING: "enter go on  tab next  esc close",
    Stage.LOOKING: "looking at what is known of it",
    Stage.ASKING: "enter yes  up, down read  esc no",
    Stage.KEEPING: "on its way into the inbox",
}


class FieldChanged(Message):
    def __init__(self, name: str, value: str) -> None:
        super().__init__()
        self.name, self.value = name, value


class TypedIn(Input):
    """A line to be typed. What is pasted is made one harmless line of."""

    def __init__(self, asked: FormField, value: str, voice: Voice) -> None:
        super().__init__(value, voice.text(asked.example, 80), name=asked.name, max_length=LONGEST, compact=True)
        self.cursor_blink = False

    def _on_paste(self, event: events.Paste) -> None:
        event.prevent_default()
        event.stop()
        line = clean(" ".join(event.text.split()), LONGEST)
        if self.selection.is_empty:
            self.insert_text_at_cursor(line)
        else:
            self.replace(line, *self.selection)


class Picked(Static, can_focus=True):
    """One of a few words: left and right, blank, or the letter that it begins with."""

    def __init__(self, asked: FormField, value: str, voice: Voice) -> None:
        super().__init__(name=asked.name, classes="picked")
        self._words = [word for word, _ in asked.choices]
        self._voice = voice
        self.value = value if value in self._words else self._words[0]

    def on_mount(self) -> None:
        self._say()

    def _say(self) -> None:
        self.update(Content(f"< {self._voice.text(self.value, 60)} >"))

    def _turn(self, by: int) -> None:
        self._take(self._words[(self._words.index(self.value) + by) % len(self._words)])

    def _take(self, word: str) -> None:
        self.value = word
        self._say()
        self.post_message(FieldChanged(self.name or "", word))

    def on_key(self, event: events.Key) -> None:
        if event.key in {"left", "right", "space"}:
            self._turn(-1 if event.key == "left" else 1)
        elif event.character is not None and event.is_printable:
            self._begin_with(event.character.casefold())
        else:
            return
        event.stop()

    def _begin_with(self, letter: str) -> None:
        """The next word that does; of those that do, one after the other."""
        at = self._words.index(self.value)
        after = [*self._words[at + 1 :], *self._words[: at + 1]]
        word = next((one for one in after if one.casefold().startswith(letter)), None)
        if word is not None:
            self._take(word)

    def on_click(self, event: events.Click) -> None:
        event.stop()
        self.focus()
        self._turn(1)


class FormScreen(ModalScreen[None]):
    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of(actions.FORM))

    def __init__(self, form: OpenForm, voice: Voice) -> None:
        super().__init__(classes="form")
        self._form, self._voice = form, voice

    def compose(self) -> ComposeResult:
        with Vertical(id="box"):
            yield Paper(ascii_only=self._voice.ascii, id="title")
            with Vertical(id="fields"):
                for asked in self._form.kind.fields:
                    yield self._row(asked)
            with Vertical(id="sheet"):
                yield Paper(ascii_only=self._voice.ascii, id="told")
            yield Paper(ascii_only=self._voice.ascii, id="asked")
            yield Paper(ascii_only=self._voice.ascii, id="keys")

    def _row(self, asked: FormField) -> Horizontal:
        value = self._form.draft.values.get(asked.name, "")
        typed = Picked(asked, value, self._voice) if asked.choices else TypedIn(asked, value, self._voice)
        label = Static(Content(self._voice.text(asked.label, 20)), classes="label")
        return Horizontal(label, typed, classes="row", name=asked.name)

    def on_mount(self) -> None:
        if self._voice.ascii:
            for name in ("#fields", "#sheet"):
                self.query_one(name).vertical_scrollbar.renderer = TypedScrollBar  # type: ignore[misc]
        self.show(self._form)
        self._focus_first()

    def on_resize(self) -> None:
        self.call_after_refresh(self.show, self._form)

    def show(self, form: OpenForm) -> None:
        before, self._form = self._form, form
        if not (self.is_mounted and self.is_attached):  # not there yet, or taken down while a size was to be drawn
            return
        filling = form.stage in {Stage.FILLING, Stage.LOOKING} and bool(form.kind.fields)
        self.query_one("#fields").display = filling
        there = {one.name for one in form.kind.asked(form.draft.values)}
        for row in self.query(".row"):
            row.display = row.name in there
        self._write("title", [(Span(form.kind.title, Ink.STRONG), Span(f"  {self._voice.text(form.about, 60)}"))])
        told, asked = self._told(form)
        self._write("told", told)
        self._write("asked", asked)
        self._share_out(len(there) if filling else 0, len(told), len(asked))
        self._write("keys", [(Span(KEYS[form.stage], Ink.FAINT),)])
        if filling and before.stage is not form.stage and self.focused is None:
            self._focus_first()

    def _told(self, form: OpenForm) -> tuple[list[Line], list[Line]]:
        """What stands under the fields or in their place, and the question."""
        size = max(min(self.size.width, WIDEST) - BESIDE, 20)
        if form.prepared is not None:
            return sheet.shown(form.prepared, form.kind, size), sheet.asked(form.prepared, size)
        return sheet.wrong(self._voice.text(form.wrong, 1000), size), []

    def _share_out(self, fields: int, told: int, asked: int) -> None:
        """The rows that there are: the fields scroll, and what is told too; the question stays in sight."""
        room = max(self.size.height - FRAME - asked, 2)
        told_rows = min(told, max(room - fields, room // 2)) if fields else min(told, room)
        self.query_one("#sheet").styles.height = told_rows
        self.query_one("#sheet").display = told > 0
        self.query_one("#fields").styles.height = min(fields, room - told_rows)

    def _write(self, name: str, lines: list[Line]) -> None:
        paper = self.query_one(f"#{name}", Paper)
        paper.styles.height = len(lines)
        paper.show(tuple(lines))

    def _focus_first(self) -> None:
        """What is to be typed first: not what is chosen already."""
        fields = [one for one in self.focus_chain if isinstance(one, TypedIn | Picked)]
        typed = [one for one in fields if isinstance(one, TypedIn)]
        if fields:
            (fields[0] if isinstance(fields[0], TypedIn) or self._chooses_first else typed[0]).focus()

    @property
    def _chooses_first(self) -> bool:
        """Whether the form begins with what it is about."""
        first = self._form.kind.fields[0]
        return bool(first.choices) and first.name == "what"

    def step(self, by: int) -> None:
        """To the next field or the one before; through what is asked about."""
        if self._form.stage is Stage.ASKING:
            self.query_one("#sheet").scroll_relative(y=3 * by, animate=False)
        elif by > 0:
            self.focus_next()
        else:
            self.focus_previous()

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self.post_message(EventHeard(FieldTyped(event.input.name or "", event.value)))

    @on(FieldChanged)
    def _picked(self, event: FieldChanged) -> None:
        event.stop()
        self.post_message(EventHeard(FieldTyped(event.name, event.value)))

    @on(Input.Submitted)
    async def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        await self.run_action("app.act('form-on')")


class WhatToWrite(ModalScreen[str | None]):
    """Which form, by what it is for; its name comes back."""

    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of(actions.CHOICE))

    def __init__(self, about: str, kinds: tuple[tuple[str, str], ...], voice: Voice) -> None:
        super().__init__(classes="form")
        self._about, self._kinds, self._voice = about, kinds, voice

    def compose(self) -> ComposeResult:
        with Vertical(id="box"):
            yield Static(Content(f"Write in, of {self._voice.text(self._about, 50)}:"))
            yield OptionList(*(Option(Content(self._voice.text(purpose, 60))) for _, purpose in self._kinds))

    def on_mount(self) -> None:
        self.query_one(OptionList).focus()

    @on(OptionList.OptionSelected)
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(self._kinds[event.option_index][0])
