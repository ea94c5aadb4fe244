"""What a person can do, each thing once: by which keys, where, and what happens. Bindings, footer and help are made
from it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fermwatch.dashboard.events import (
    CursorMoved,
    DialPicked,
    DialTurned,
    Happening,
    MarkStepped,
    PageOpened,
    TimeMoved,
    WindowMoved,
    Wish,
    Zoomed,
)
from fermwatch.dashboard.pages.alarms import Alarms
from fermwatch.dashboard.pages.batch import BatchPage
from fermwatch.dashboard.pages.batches import Batches
from fermwatch.dashboard.pages.bottling import Bottling
from fermwatch.dashboard.pages.fermenter import Fermenter
from fermwatch.dashboard.pages.instruments import Instruments
from fermwatch.dashboard.pages.overview import Overview
from fermwatch.dashboard.pages.packages import Packages
from fermwatch.dashboard.pages.registry import FIRST, PAGES
from fermwatch.dashboard.pages.regulating import Regulating
from fermwatch.dashboard.pages.stretch import STEPS

OVERVIEW, FERMENTER, BATCH, PACKAGED = Overview.NAME, Fermenter.NAME, BatchPage.NAME, Packages.NAME
CONTROLLER, HEALTH, BOTTLING = Regulating.NAME, Instruments.NAME, Bottling.NAME
BATCHES = Batches.NAME
ENTRIES = BATCH, PACKAGED, BATCHES  # pages of which one line is under the cursor
ALARMS = Alarms.NAME
EVERY_PAGE = tuple(PAGES)
OPENED = tuple(name for name in PAGES if name != FIRST)  # what lies over the first page, and leads back to it
HELP, CHOICE, FORM, FINDER = "help", "choice", "form", "finder"  # windows over a page
KEYS_IN_HELP = 2  # of one action
FAR = STEPS // 2

_LEAVE = "leave; the watcher goes on"
_CONTROLLER = "what is done about its temperature: the controller and the plan"
_KEY_WORDS = {
    "question_mark": "?",
    "slash": "/",
    "escape": "esc",
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
}


@dataclass(frozen=True, slots=True)
class Action:
    """keys: by the terminal library's names, the one that the footer shows first. label: in the footer.

    help: what the help window says of it; empty for what is done in a window. where: names of pages and windows.
    """

    name: str
    keys: tuple[str, ...]
    label: str
    event: Happening
    where: tuple[str, ...] = EVERY_PAGE
    help: str = ""
    in_footer: bool = True

    def is_there(self, page: str) -> bool:
        """Over this page; what is for a window is, whenever the window is."""
        return page in self.where or not set(self.where) & set(EVERY_PAGE)

    @property
    def is_general(self) -> bool:
        """The same on every page, or on every other."""
        return len(self.where) >= len(EVERY_PAGE) - 1

    @property
    def key_words(self) -> tuple[str, ...]:
        return tuple(_KEY_WORDS.get(key, key) for key in self.keys)


# In the order of the footer: on a narrow screen its end is cut off, and help tells of what is lost.
ACTIONS = (
    Action(
        "back",
        ("escape", "enter", "backspace"),
        "back",
        Wish.BACK,
        tuple(name for name in OPENED if name != ALARMS),
        "back to all lanes",
    ),
    Action("back-from-alarms", ("escape", "backspace"), "back", Wish.BACK, (ALARMS,), "back to all lanes"),
    Action("quit", ("q", "ctrl+q"), "quit", Wish.LEAVE, (OVERVIEW,), help=_LEAVE),
    Action("leave", ("q", "ctrl+q"), "quit", Wish.LEAVE, OPENED, _LEAVE, in_footer=False),
    Action("help", ("question_mark",), "help", Wish.HELP, help="these lines"),
    Action(
        "lane-up",
        ("up", "k"),
        "up",
        CursorMoved(-1),
        (OVERVIEW, ALARMS),
        "the lane or the alarm above",
        in_footer=False,
    ),
    Action(
        "lane-down",
        ("down", "j"),
        "down",
        CursorMoved(1),
        (OVERVIEW, ALARMS),
        "the lane or the alarm below",
        in_footer=False,
    ),
    Action(
        "before",
        ("k",),
        "before",
        CursorMoved(-1),
        (FERMENTER, CONTROLLER, BOTTLING),
        "the fermenter above",
        in_footer=False,
    ),
    Action(
        "after",
        ("j",),
        "after",
        CursorMoved(1),
        (FERMENTER, CONTROLLER, BOTTLING),
        "the fermenter below",
        in_footer=False,
    ),
    Action("why", ("w",), "why?", Wish.WHY, (FERMENTER, BOTTLING), "why it says so: the evidence, and back"),
    Action(
        "next-mark", ("n",), "next", MarkStepped(1), (FERMENTER,), "what happened next, on the chart", in_footer=False
    ),
    Action("mark-before", ("p",), "before", MarkStepped(-1), (FERMENTER,), "what happened before", in_footer=False),
    Action("next-entry", ("n",), "next", MarkStepped(1), ENTRIES, "the next entry, or the next beer"),
    Action(
        "entry-before", ("p",), "before", MarkStepped(-1), (BATCH, PACKAGED, BATCHES), "the one before", in_footer=False
    ),
    Action(
        "closer",
        ("plus", "equals_sign"),
        "closer",
        Zoomed(1),
        (FERMENTER,),
        "a shorter stretch of time",
        in_footer=False,
    ),
    Action("wider", ("minus",), "wider", Zoomed(-1), (FERMENTER,), "a longer stretch of time", in_footer=False),
    Action("whole", ("0",), "whole", Zoomed(0), (FERMENTER,), "the whole ferment", in_footer=False),
    Action("earlier", ("left",), "earlier", TimeMoved(-1), (FERMENTER,), "read an earlier moment", in_footer=False),
    Action("later", ("right",), "later", TimeMoved(1), (FERMENTER,), "read a later moment", in_footer=False),
    Action(
        "far-earlier",
        ("left_square_bracket",),
        "far earlier",
        TimeMoved(-FAR),
        (FERMENTER,),
        "half a chart earlier",
        in_footer=False,
    ),
    Action(
        "far-later",
        ("right_square_bracket",),
        "far later",
        TimeMoved(FAR),
        (FERMENTER,),
        "half a chart later",
        in_footer=False,
    ),
    Action("next-dial", ("n",), "next", DialPicked(1), (BOTTLING,), "what + and - turn: package, CO2, warmth, volume"),
    Action("dial-before", ("p",), "before", DialPicked(-1), (BOTTLING,), "the one before", in_footer=False),
    Action("more", ("plus", "right", "equals_sign"), "more", DialTurned(1), (BOTTLING,), "turn it up, or to the next"),
    Action("less", ("minus", "left"), "less", DialTurned(-1), (BOTTLING,), "turn it down, or to the one before"),
    Action("as-meant", ("0",), "own", DialTurned(0), (BOTTLING,), "back to the batch's own package", in_footer=False),
    Action("open", ("enter",), "open", Wish.OPEN, (OVERVIEW,), "open the lane, or the packaged beers"),
    Action(
        "batch",
        ("e",),
        "batch",
        PageOpened(BATCH),
        (OVERVIEW, PACKAGED, BATCHES),
        "the batch: what was pitched, done, measured and tasted",
    ),
    Action("batch-here", ("e",), "batch", PageOpened(BATCH), (FERMENTER,), "the batch of the chart", in_footer=False),
    Action(
        "write",
        ("i",),
        "write",
        Wish.WRITE,
        (OVERVIEW, FERMENTER, BATCH, PACKAGED),
        "write something in: a gravity, what you saw or did, a new batch",
    ),
    Action(
        "void",
        ("x",),
        "take back",
        Wish.VOID,
        (BATCH,),
        "take back the entry under the cursor, else the last one",
    ),
    Action("batches", ("v",), "batches", PageOpened(BATCHES), (BATCH,), "every batch there was, to open or to compare"),
    Action(
        "beside", ("v",), "side by side", Wish.BESIDE, (BATCHES,), "mark this one; then another, for both side by side"
    ),
    Action("of-one", ("enter", "w"), "more", Wish.OPEN, (ALARMS,), "more of the alarm under the cursor: its history"),
    Action("quieten", ("s",), "quiet", Wish.QUIETEN, (ALARMS,), "keep the alarm quiet for a while, or let it speak"),
    Action(
        "alarms",
        ("l",),
        "alarms",
        PageOpened(ALARMS),
        tuple(name for name in EVERY_PAGE if name != ALARMS),
        "all alarms: what needs you, what you have seen, what is quiet and until when",
        in_footer=False,
    ),
    Action(
        "bottling",
        ("b",),
        "bottle",
        PageOpened(BOTTLING),
        (OVERVIEW, FERMENTER, PACKAGED),
        "may it be bottled, what is missing, and how hard it gets in what",
    ),
    Action(
        "controller",
        ("c",),
        "control",
        PageOpened(CONTROLLER),
        (FERMENTER,),
        _CONTROLLER,
    ),
    Action(
        "controller-of-lane",
        ("c",),
        "control",
        PageOpened(CONTROLLER),
        (OVERVIEW,),
        _CONTROLLER,
        in_footer=False,
    ),
    Action(
        "acknowledge",
        ("a",),
        "seen",
        Wish.ALARM_SEEN,
        help="say that you have seen the alarm of the lane or the site",
    ),
    Action(
        "observe", ("o",), "observe", Wish.OBSERVE, help="let every controller be, at once: nothing is written any more"
    ),
    Action(
        "health",
        ("g",),
        "health",
        PageOpened(HEALTH),
        tuple(name for name in EVERY_PAGE if name != HEALTH),
        "how probes, sources, watcher, store and messages do, each with its remedy",
        in_footer=False,
    ),
    Action("search", ("slash",), "search", Wish.SEARCH, help="go to a fermenter or batch by its name", in_footer=False),
    Action(
        "palette",
        ("ctrl+p",),
        "do",
        Wish.PALETTE,
        help="whatever can be done here, by its name",
        in_footer=False,
    ),
    Action("units", ("u",), "units", Wish.UNITS, help="change units: °C or °F, SG or °P", in_footer=False),
    Action(
        "theme", ("t",), "theme", Wish.THEME, help="change colours: dark, light, the terminal's own", in_footer=False
    ),
    Action("close-help", ("escape", "enter", "question_mark", "q", "space"), "close", Wish.CLOSE_WINDOW, (HELP,)),
    Action("form-on", ("enter",), "go on", Wish.FORM_ON, (FORM,)),
    Action("form-back", ("escape",), "back", Wish.FORM_BACK, (FORM,)),
    Action("field-next", ("down", "tab"), "next", Wish.FIELD_NEXT, (FORM,)),
    Action("field-before", ("up", "shift+tab"), "before", Wish.FIELD_BEFORE, (FORM,)),
    Action("close-choice", ("escape", "q"), "close", Wish.CLOSE_WINDOW, (CHOICE,)),
    Action("close-finder", ("escape",), "close", Wish.CLOSE_WINDOW, (FINDER,)),
    Action("found-above", ("up",), "up", WindowMoved(-1), (FINDER,)),
    Action("found-below", ("down",), "down", WindowMoved(1), (FINDER,)),
)
_BY_NAME = {action.name: action for action in ACTIONS}


def named(name: str) -> Action:
    return _BY_NAME[name]


def of(place: str) -> tuple[Action, ...]:
    """What can be done on a page or in a window."""
    return tuple(action for action in ACTIONS if place in action.where)


def of_pages() -> tuple[Action, ...]:
    return tuple(action for action in ACTIONS if set(action.where) & set(EVERY_PAGE))


def by_key(actions: Iterable[Action]) -> Iterator[tuple[str, Action]]:
    """Keys with their actions. First each action's first key, whose place is its action's place in the footer."""
    actions = tuple(actions)
    for action in actions:
        yield action.keys[0], action
    for action in actions:
        for key in action.keys[1:]:
            yield key, action


def help_rows(page: str) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Keys and what they do, for the help window: what is done on this page, and what is done on every page."""
    here: list[tuple[str, str]] = []
    anywhere: list[tuple[str, str]] = []
    for action in of(page):
        if action.help:
            rows = anywhere if action.is_general else here
            rows.append((", ".join(action.key_words[:KEYS_IN_HELP]), action.help))
    return here, anywhere
