"""Two small windows: the keys and signs explained, and which of several alarms is meant."""

from datetime import datetime
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from fermwatch.dashboard import actions
from fermwatch.dashboard.bindings import bindings
from fermwatch.dashboard.screens.page import TypedScrollBar
from fermwatch.desk import quietening
from fermwatch.drawing.glyphs import DRAWN, TYPED, Glyphs
from fermwatch.drawing.labelled import labelled
from fermwatch.drawing.lines import plain
from fermwatch.model.finding import Alarm
from fermwatch.requests.shapes import Asked
from fermwatch.saying import quiet
from fermwatch.saying.marks import Sign
from fermwatch.saying.voice import Voice

WIDE, SHARE, FRAME = 70, 0.95, 7  # cells: of a window, as the style sheet has it, and what its frame takes of them


def _signs(glyphs: Glyphs, page: str) -> tuple[tuple[str, str], ...]:
    low = glyphs.low_edge + glyphs.band
    scale = (
        (f"{low}{glyphs.set_point}{glyphs.band}{glyphs.high_edge}", "the yeast's range, with the set point on it"),
        (glyphs.pen, "where the beer is now"),
        (glyphs.pen_stale, "where it last was, by the last good reading"),
        (f"{glyphs.off_low} {glyphs.off_high}", "the beer is beyond the scale"),
        (f"{glyphs.passed * 2}{glyphs.pen}{glyphs.ahead * 2}", "gravity: behind it, now, still to go"),
        (f"{glyphs.uncertain}{glyphs.likely}{glyphs.uncertain}", "where it may end, and where most likely"),
    )
    chart = (
        (glyphs.reading, "a gravity measured by hand"),
        (f"{glyphs.uncertain}{glyphs.rule}{glyphs.uncertain}", "where gravity may go, and where most likely"),
        (glyphs.set_to, "the controller's set point"),
        (glyphs.plan, "where the plan wants the beer"),
        (glyphs.at_work[::3], "cooling or heating, little of the time to all of it"),
        (f"{glyphs.hair} {glyphs.present}", "the chart's cursor, and now"),
        *((sign.letter, sign.meaning) for sign in Sign),
    )
    everywhere = (
        ("!!  !  i", "critical, warning, advice"),
        (quiet.MARK, "kept quiet on purpose: shelved, or out of service"),
    )
    return (
        *(scale if page in {actions.OVERVIEW, actions.FERMENTER} else ()),
        *(chart if page == actions.FERMENTER else ()),
        *everywhere,
    )


def help_text(glyphs: Glyphs, page: str, size: int) -> str:
    """The keys of this page first, then those of every page, then what the signs mean that stand on it."""
    parts = (*actions.help_rows(page), _signs(glyphs, page))
    return "\n\n".join("\n".join(map(plain, labelled(rows, size))) for rows in parts)


class Help(ModalScreen[None]):
    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of(actions.HELP))

    def __init__(self, page: str, *, ascii_only: bool) -> None:
        super().__init__(classes="dialog")
        self._page, self._ascii_only = page, ascii_only

    def compose(self) -> ComposeResult:
        size = min(WIDE, int(self.app.size.width * SHARE)) - FRAME
        text = help_text(TYPED if self._ascii_only else DRAWN, self._page, size)
        if self._ascii_only:
            text = Voice(ascii=True).text(text.replace("\n", "\x00"), 4000).replace("\\x00", "\n")
        with VerticalScroll(id="box"):
            yield Static(Content(text))


class ChooseAlarms(ModalScreen[tuple[Alarm, ...] | None]):
    """Which of several unseen alarms is meant, all of them first."""

    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of(actions.CHOICE))

    def __init__(self, alarms: tuple[Alarm, ...], voice: Voice) -> None:
        super().__init__(classes="dialog")
        self._alarms, self._voice = alarms, voice

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="box"):
            yield Static(Content("Which alarm have you seen?"))
            options = [Option(Content("all of them"))]
            options += [Option(Content(self._voice.text(alarm.statement or alarm.rule, 70))) for alarm in self._alarms]
            yield OptionList(*options)

    def on_mount(self) -> None:
        self.query_one(OptionList).focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(self._alarms if event.option_index == 0 else (self._alarms[event.option_index - 1],))


class Quieten(ModalScreen[Asked | None]):
    """For how long an alarm is to be quiet, with what that means; or that it may speak again."""

    BINDINGS: ClassVar[list[BindingType]] = bindings(actions.of(actions.CHOICE))

    def __init__(self, alarm: Alarm, now: datetime, voice: Voice) -> None:
        super().__init__(classes="dialog")
        self._alarm, self._voice = alarm, voice
        self._choices = quietening.choices(alarm, now, voice)

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="box"):
            yield Static(Content(self._voice.text(quietening.means(self._alarm, self._voice))))
            yield OptionList(*(Option(Content(self._voice.text(one.text))) for one in self._choices))

    def on_mount(self) -> None:
        self.query_one(OptionList).focus()
        if self._voice.ascii:
            self.query_one("#box").vertical_scrollbar.renderer = TypedScrollBar  # type: ignore[misc]

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(self._choices[event.option_index].asked)
