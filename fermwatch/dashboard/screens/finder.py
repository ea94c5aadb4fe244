"""A small window with a line to type in, and below it what is meant by that."""

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from fermwatch.dashboard import actions
from fermwatch.dashboard.bindings import bindings
from fermwatch.dashboard.events import Happening
from fermwatch.dashboard.finding import Entry, matching

KEYS = 11  # cells, as in the help


class Finder(ModalScreen[Happening | None]):
    """Gives back what happens by the entry that was chosen; None where nothing was."""

    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of(actions.FINDER))

    def __init__(self, entries: tuple[Entry, ...], asks: str, nothing: str) -> None:
        """asks: in the empty line. nothing: what is said where nothing fits."""
        super().__init__(classes="dialog")
        self._entries, self._asks, self._nothing = entries, asks, nothing
        self._found = entries

    def compose(self) -> ComposeResult:
        with Vertical(id="box"):
            yield Input(placeholder=self._asks)
            yield OptionList()
            yield Static(Content(self._nothing), id="nothing")

    def on_mount(self) -> None:
        self.query_one(OptionList).can_focus = False
        self._show("")

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self._show(event.value)

    def _show(self, typed: str) -> None:
        self._found = matching(self._entries, typed)
        listed = self.query_one(OptionList)
        listed.clear_options()
        listed.add_options(
            Option(Content(f"{one.keys:<{KEYS}}{one.text}" if one.keys else one.text)) for one in self._found
        )
        listed.highlighted = 0 if self._found else None
        listed.display = bool(self._found)
        self.query_one("#nothing").display = not self._found

    def move(self, by: int) -> None:
        """The cursor in what was found."""
        listed = self.query_one(OptionList)
        if self._found:
            listed.highlighted = min(max((listed.highlighted or 0) + by, 0), len(self._found) - 1)

    @on(Input.Submitted)
    def _chosen(self, event: Input.Submitted) -> None:
        event.stop()
        place = self.query_one(OptionList).highlighted
        self.dismiss(None if place is None or not self._found else self._found[place].event)

    @on(OptionList.OptionSelected)
    def _pointed_at(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(self._found[event.option_index].event)
