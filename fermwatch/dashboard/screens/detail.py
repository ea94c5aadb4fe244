"""One fermenter with the evidence for all that is said of it."""

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer

from fermwatch.dashboard import live
from fermwatch.dashboard.live import LiveView
from fermwatch.dashboard.widgets.paper import Paper


class Detail(Screen[None]):
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter,backspace", "app.back", "back", key_display="esc", id="back")
    ]

    def __init__(self, view: LiveView) -> None:
        super().__init__()
        self._view = view

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="scroll"):
            yield Paper(ascii_only=self._view.ascii)
        yield Footer(show_command_palette=False)

    def show(self, view: LiveView) -> None:
        self._view = view
        if self.is_mounted:
            self._draw()

    def _draw(self) -> None:
        paper = self.query_one(Paper)
        lines = live.lane_detail(self._view, self.size.width - 1).lines
        if paper.styles.height is None or paper.styles.height.value != len(lines):
            paper.styles.height = len(lines)
        paper.show(lines)

    def on_mount(self) -> None:
        self._draw()
        self.query_one(VerticalScroll).focus()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)
