"""All that the dashboard is at one moment, as one frozen value, and what each event makes of it. Pure: no terminal,
no clock; what is to be done besides drawing is handed back as effects.
"""

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING

from fermwatch.contracts.feed import OutcomesAnswer, OutcomesQuery, Query, Snapshot
from fermwatch.contracts.inbox import OutcomeState
from fermwatch.dashboard import bell
from fermwatch.dashboard.events import (
    Acknowledge,
    Answered,
    AskQuiet,
    AskWhich,
    AwaitOutcomes,
    CameBack,
    CursorMoved,
    DialPicked,
    DialTurned,
    Do,
    Effect,
    Failed,
    FieldTyped,
    FormOpened,
    GoneTo,
    Happening,
    KeepLook,
    KeepUnits,
    LanePicked,
    LetBe,
    Looked,
    MarkStepped,
    MoveInWindow,
    NotTaken,
    PageOpened,
    ReadingFailed,
    RequestsKept,
    SnapshotRead,
    Tell,
    TimeMoved,
    WaitedLong,
    WindowMoved,
    Wish,
    Zoomed,
)
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.page import Page
from fermwatch.dashboard.pages.registry import FIRST, PAGES
from fermwatch.saying import asking
from fermwatch.saying.voice import Units, turns

if TYPE_CHECKING:  # not before somebody writes something in
    from fermwatch.dashboard.forms.form import Draft, OpenForm

Told = SnapshotRead | ReadingFailed | Answered | RequestsKept | WaitedLong | Failed
Step = tuple["State", tuple[Effect, ...]]


@dataclass(frozen=True, slots=True)
class Awaited:
    """A request whose outcome nobody knows yet, and what is said when it is done. late: nobody looks out for it.

    draft: of the form that it came from, which is there again where it is refused.
    """

    request_key: str
    done: str
    late: bool = False
    draft: "Draft | None" = None


@dataclass(frozen=True, slots=True)
class State:
    """pages: as they were opened one from the other; the last one is shown.

    to_come: the units that the key turns to next, as soon as it was used. form: the one that is open over the page;
    drafts: what was typed into others, and left. rang_at: when the bell rang last.
    """

    known: Known = field(default_factory=Known)
    pages: tuple[Page, ...] = field(default_factory=lambda: (PAGES[FIRST](""),))
    awaited: tuple[Awaited, ...] = ()
    to_come: tuple[Units, ...] = ()
    form: "OpenForm | None" = None
    drafts: "tuple[Draft, ...]" = ()
    rang_at: datetime | None = None

    @property
    def page(self) -> Page:
        return self.pages[-1]

    def wants(self) -> tuple[Query, ...]:
        """What is to be read from the store beyond the snapshot, one of a kind."""
        outcomes = OutcomesQuery(tuple(one.request_key for one in self.awaited))
        return (*self.page.wants(self.known), *([outcomes] if self.awaited else []))

    @property
    def looks_out(self) -> bool:
        """Whether somebody waits for what comes of what was asked."""
        return any(not one.late for one in self.awaited)


_BY_THE_TERMINAL = {
    Wish.HELP: Do.SHOW_HELP,
    Wish.SEARCH: Do.SEARCH,
    Wish.PALETTE: Do.SHOW_PALETTE,
    Wish.CLOSE_WINDOW: Do.CLOSE_WINDOW,
    Wish.LEAVE: Do.LEAVE,
    Wish.FIELD_NEXT: Do.FIELD_NEXT,
    Wish.FIELD_BEFORE: Do.FIELD_BEFORE,
}


def absorb(state: State, event: Happening) -> Step:
    """The state after the event, and what is to be done."""
    match event:
        case Wish():
            return _wished(state, event)
        case PageOpened():
            return _opened(state, event)
        case GoneTo(name, subject):
            return _gone_to(state, name, subject), ()
        case WindowMoved(by):
            return state, (MoveInWindow(by),)
        case CursorMoved() | TimeMoved() | Zoomed() | MarkStepped() | LanePicked() | CameBack():
            return _on_page(state, event)
        case DialPicked() | DialTurned():
            return _on_page(state, event)
        case FormOpened() | FieldTyped() | Looked() | NotTaken():
            return _in_form(state, event)
        case _:
            return _heard(state, event)


def _in_form(state: State, event: FormOpened | FieldTyped | Looked | NotTaken) -> Step:
    from fermwatch.dashboard.forms import flow

    match event:
        case FormOpened():
            return flow.opened(state, event)
        case FieldTyped(name, value):
            return flow.typed(state, name, value)
        case Looked():
            return flow.looked(state, event)
        case NotTaken():
            return flow.not_taken(state, event)


def _writing(state: State, wish: Wish) -> Step:
    from fermwatch.dashboard.forms import flow

    if wish is Wish.WRITE:
        return flow.write(state)
    return flow.on(state) if wish is Wish.FORM_ON else flow.back(state)


def _wished(state: State, wish: Wish) -> Step:
    known = state.known
    match wish:
        case Wish.BACK:
            return _back(state)
        case Wish.WHY | Wish.OPEN | Wish.VOID | Wish.BESIDE | Wish.QUIETEN:
            return _on_page(state, wish)
        case Wish.WRITE | Wish.FORM_ON | Wish.FORM_BACK:
            return _writing(state, wish)
        case Wish.UNITS:
            units, *then = state.to_come or turns(known.units)
            turned = replace(state, known=replace(known, units=units), to_come=(*then, units))
            return turned, (KeepUnits(units, then=then[0]),)
        case Wish.THEME:
            look = known.look.next
            return replace(state, known=replace(known, look=look)), (KeepLook(look),)
        case Wish.ALARM_SEEN | Wish.OBSERVE:
            return state, (_seen(state) if wish is Wish.ALARM_SEEN else _let_be(state.known),)
        case _:
            return state, (_BY_THE_TERMINAL[wish],)


def _heard(state: State, event: Told) -> Step:
    match event:
        case SnapshotRead(snapshot):
            return _seen_anew(state, snapshot)
        case ReadingFailed():
            return replace(state, known=replace(state.known, failure=event)), ()
        case Answered(OutcomesAnswer() as answer):
            return _outcomes(replace(state, known=state.known.with_answer(answer)), answer)
        case Answered(answer):
            return replace(state, known=state.known.with_answer(answer)), ()
        case RequestsKept(request_keys, done, draft):
            awaited = tuple(Awaited(one, done, draft=draft) for one in request_keys)
            if draft is not None:
                from fermwatch.dashboard.forms import flow

                state = flow.kept(state, draft)
            return replace(state, awaited=(*state.awaited, *awaited)), (AwaitOutcomes(request_keys),)
        case WaitedLong(request_keys):
            if not {one.request_key for one in state.awaited} & set(request_keys):
                return state, ()
            awaited = tuple(replace(one, late=one.late or one.request_key in request_keys) for one in state.awaited)
            return replace(state, awaited=awaited), (Tell(asking.kept(watched=_watched(state))),)
        case Failed(text):
            return state, (Tell(text, severe=True),)


def _seen_anew(state: State, snapshot: Snapshot) -> Step:
    ring = bell.rings(state.known.snapshot, snapshot, state.rang_at)
    after = replace(state, known=replace(state.known, snapshot=snapshot, failure=None))
    return (replace(after, rang_at=snapshot.wall_now), (Do.RING,)) if ring else (after, ())


def _watched(state: State) -> bool:
    """Whether anybody runs who may carry out what was asked, as far as it is known."""
    answer = state.known.answers.get(OutcomesQuery)
    if isinstance(answer, OutcomesAnswer):
        return answer.watched
    return state.known.snapshot is not None and state.known.snapshot.watched


def _outcomes(state: State, answer: OutcomesAnswer) -> Step:
    """What was refused is told with its reason; what is done once, when all that was asked with it is done."""
    told = {one.request_key: one for one in answer.outcomes}
    awaited = tuple(one for one in state.awaited if one.request_key not in told)
    effects: list[Effect] = []
    for one in state.awaited:
        outcome = told.get(one.request_key)
        if outcome is None:
            continue
        if outcome.state is not OutcomeState.DONE:
            effects.append(Tell(asking.refused(outcome), severe=True))
            if one.draft is not None:
                from fermwatch.dashboard.forms import flow

                state = flow.put_by(state, one.draft)
        elif all(other.done != one.done for other in awaited) and Tell(one.done) not in effects:
            effects.append(Tell(one.done))
    return replace(state, awaited=awaited), tuple(effects)


def _seen(state: State) -> Effect:
    alarms = state.page.waiting(state.known)
    if not state.known.may_ask:
        return Tell(asking.VIEWER_ONLY, severe=True)
    if not alarms:
        return Tell(asking.NONE_WAITS)
    return Acknowledge(alarms) if len(alarms) == 1 else AskWhich(alarms)


def _let_be(known: Known) -> Effect:
    """All that there are, whatever they were seen to do last: nobody asks twice in the safe direction."""
    lanes = () if known.snapshot is None else known.snapshot.lanes
    names = tuple(one.name for lane in lanes for one in lane.controllers)
    if not known.may_ask:
        return Tell(asking.VIEWER_ONLY, severe=True)
    return LetBe(names) if names else Tell(asking.NO_CONTROLLER)


def _opened(state: State, opened: PageOpened) -> Step:
    about = opened.about or state.page.about(state.known)
    return (replace(state, pages=(*state.pages, PAGES[opened.name](about))) if about else state), ()


def _gone_to(state: State, name: str, subject: str) -> State:
    """The first page below it has its cursor on the same, so that the way back leads there."""
    first = PAGES[FIRST](subject)
    return replace(state, pages=(first,) if name == FIRST else (first, PAGES[name](subject)))


def _back(state: State) -> Step:
    if len(state.pages) == 1:
        return state, ()
    about = state.page.about(state.known)
    return _on_page(replace(state, pages=state.pages[:-1]), CameBack(about))


def _on_page(state: State, event: Happening) -> Step:
    after = state.page.absorb(event, state.known)
    if isinstance(after, PageOpened):
        return _opened(state, after)
    if isinstance(after, FormOpened):
        return _in_form(state, after)
    if isinstance(after, AskQuiet):
        return state, (after if state.known.may_ask else Tell(asking.VIEWER_ONLY, severe=True),)
    return (state if after == state.page else replace(state, pages=(*state.pages[:-1], after))), ()
