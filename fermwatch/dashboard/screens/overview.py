"""The overview: is everything all right, and where am I needed?"""

from textual import events
from textual.app import ComposeResult
from textual.geometry import Size
from textual.screen import Screen
from textual.widgets import Footer

from fermwatch.dashboard import live
from fermwatch.dashboard.live import LanePicked, LiveView
from fermwatch.dashboard.messages import Asked
from fermwatch.dashboard.widgets.paper import Paper
from fermwatch.drawing.page import Page


class Overview(Screen[None]):
    """One sheet of paper: the lanes of the cellar, and who watches them."""

    def __init__(self, view: LiveView) -> None:
        super().__init__()
        self._view = view
        self._page = Page((), ())
        self._drawn: tuple[LiveView, Size] | None = None

    def compose(self) -> ComposeResult:
        yield Paper(ascii_only=self._view.ascii)
        yield Footer(show_command_palette=False)

    def show(self, view: LiveView) -> None:
        self._view = view
        if self.is_mounted:
            self._draw()

    def _draw(self) -> None:
        paper = self.query_one(Paper)
        wanted = (self._view, paper.size)
        if paper.size and wanted != self._drawn:
            self._drawn = wanted
            self._page = live.overview(self._view, paper.size.width, paper.size.height)
            paper.show(self._page.lines)

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    def on_click(self, event: events.Click) -> None:
        """A click picks a lane; on the lane under the cursor it opens it."""
        if not isinstance(event.widget, Paper) or event.y >= len(self._page.owners):
            return
        owner = self._page.owners[event.y]
        if owner < 0:
            return
        picked = owner == self._view.selected
        self.post_message(Asked(LanePicked(owner)))
        if picked:
            self.app.call_later(self.app.run_action, "open_lane")
