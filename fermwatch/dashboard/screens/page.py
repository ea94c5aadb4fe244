"""The one screen that shows any page: a sheet of paper over the footer."""

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.geometry import Region, Size
from textual.screen import Screen
from textual.scrollbar import ScrollBarRender
from textual.widgets import Footer

from fermwatch.dashboard import actions
from fermwatch.dashboard.events import LanePicked
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.messages import EventHeard
from fermwatch.dashboard.pages.page import Page
from fermwatch.dashboard.widgets.paper import Paper
from fermwatch.drawing.page import Drawn


class TypedScrollBar(ScrollBarRender):
    """Of whole cells, where a terminal has letters alone."""

    VERTICAL_BARS: ClassVar[list[str]] = [" "]


class PagedScroll(VerticalScroll, inherit_bindings=False):
    """For a page that has the arrows for its own cursor: it is scrolled by pages, and follows that cursor."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pageup", "page_up", show=False),
        Binding("pagedown", "page_down", show=False),
        Binding("home", "scroll_home", show=False),
        Binding("end", "scroll_end", show=False),
    ]


def _scroll_of(page: Page) -> VerticalScroll:
    arrows = any("up" in action.keys for action in actions.of(page.NAME))
    return PagedScroll(id="scroll") if arrows else VerticalScroll(id="scroll")


class PageScreen(Screen[None]):
    def __init__(self, known: Known, page: Page) -> None:
        super().__init__()
        self._known, self._page = known, page
        self._paper = Paper(ascii_only=known.ascii)  # it is drawn on, however far this screen is made, or taken down
        self._lines = Drawn((), ())
        self._shown: tuple[Known, Page, Size] | None = None
        self.scrolls = page.SCROLLS

    def compose(self) -> ComposeResult:
        if self._page.SCROLLS:
            with _scroll_of(self._page):
                yield self._paper
        else:
            yield self._paper
        yield Footer(show_command_palette=False)

    def show(self, known: Known, page: Page, *, covered: bool) -> None:
        """covered: by another page, which whatever is drawn here would have the terminal sent anew as a whole."""
        self._known, self._page = known, page
        if self.is_mounted and not covered:
            self._draw()

    def _draw(self) -> None:
        paper = self._paper
        size = Size(self.size.width - 1, self.size.height) if self._page.SCROLLS else paper.size
        wanted = (self._known, self._page, size)
        if not size or wanted == self._shown:
            return
        self._shown, before = wanted, self._lines.picked
        self._lines = self._page.draw(self._known, size.width, size.height)
        height = len(self._lines.lines)
        if self._page.SCROLLS and (paper.styles.height is None or paper.styles.height.value != height):
            paper.styles.height = height
        paper.show(self._lines.lines)
        if self._lines.picked >= 0 and self._lines.picked != before:
            self.call_after_refresh(self._bring_into_view, self._lines.picked)

    def _bring_into_view(self, owner: int) -> None:
        rows = [row for row, one in enumerate(self._lines.owners) if one == owner]
        scroll = self._paper.parent
        if isinstance(scroll, VerticalScroll) and rows:
            scroll.scroll_to_region(Region(0, rows[0], 1, len(rows)), animate=False)

    def on_mount(self) -> None:
        if self._page.SCROLLS:
            self._draw()
            scroll = self.query_one(VerticalScroll)
            if self._known.ascii:
                scroll.vertical_scrollbar.renderer = TypedScrollBar  # type: ignore[misc]  # as its own documentation does
            scroll.focus()

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    def on_click(self, event: events.Click) -> None:
        owners = self._lines.owners
        if isinstance(event.widget, Paper) and event.y < len(owners) and owners[event.y] >= 0:
            self.post_message(EventHeard(LanePicked(owners[event.y])))
