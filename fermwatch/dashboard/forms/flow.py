"""What can be written in where, and what a form's events make of the dashboard's state. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fermwatch.contracts.feed import BatchAnswer, BatchQuery
from fermwatch.dashboard.events import AskWhatToWrite, Effect, FormOpened, Keep, LookAt, Looked, NotTaken, Tell
from fermwatch.dashboard.forms.form import Draft, OpenForm, Stage
from fermwatch.dashboard.forms.table import FORMS, form_of
from fermwatch.dashboard.known import Known
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement
from fermwatch.saying import asking

if TYPE_CHECKING:
    from fermwatch.dashboard.state import State

Entry = GravityMeasurement | Event
Step = tuple["State", tuple[Effect, ...]]

IN_FERMENTER = ("measure", "note", "add", "declare", "package")
IN_ITS_PACKAGE = ("in-package",)
ENDED = "This batch is ended: nothing more is written in."
WHICH = "Which packaged beer? Open them (enter), pick one by n, then i."
NO_FERMENTER = "No fermenter is configured yet: name one in fermwatch.toml and restart the watcher."


@dataclass(frozen=True, slots=True)
class WhichBeer:
    """What something is written in about. batch: None for an empty fermenter. entries: of the batch."""

    batch: Batch | None
    vessel: str = ""
    entries: tuple[Entry, ...] = ()

    @property
    def subject(self) -> str:
        return self.vessel if self.batch is None else self.batch.id

    @property
    def last(self) -> Entry | None:
        """What a person entered last, and did not take back; the planner's own steps are not a person's."""
        stands = (one for one in self.entries if not one.voided)
        by_people = (one for one in stands if not (isinstance(one, Event) and one.kind is EventKind.PLAN))
        return max(by_people, key=lambda one: one.id, default=None)


def meant(known: Known, subject: str) -> WhichBeer | None:
    """The beer that a page is about; None where it is no one beer."""
    for lane in known.lanes:
        if subject == lane.vessel.slug or (lane.batch is not None and subject == lane.batch.id):
            return WhichBeer(lane.batch, lane.vessel.slug, (*lane.measurements, *lane.events))
    beers = known.snapshot.in_package if known.snapshot is not None else ()
    answer = known.answer(BatchQuery(subject))
    if isinstance(answer, BatchAnswer) and answer.batch is not None and answer.batch.id == subject:
        return WhichBeer(answer.batch, answer.batch.vessel, (*answer.measurements, *answer.events))
    for one in beers:
        if one.batch.id == subject or len(beers) == 1:
            return WhichBeer(one.batch, one.batch.vessel, one.events)
    return None


def write(state: "State") -> Step:
    """What may be written in here, to choose from."""
    known = state.known
    if not known.may_ask:
        return state, (Tell(asking.VIEWER_ONLY, severe=True),)
    if not known.lanes:
        return state, (Tell(NO_FERMENTER),)
    here = meant(known, state.page.about(known))
    if here is None:
        return state, (Tell(WHICH),)
    if here.batch is not None and here.batch.ended_at is not None:
        return state, (Tell(ENDED),)
    kinds = _offered(known, here)
    about = here.vessel if here.batch is None else here.batch.name
    choices = tuple((kind, FORMS[kind].purpose) for kind in kinds)
    return state, (AskWhatToWrite(about, here.subject, choices),)


def _offered(known: Known, here: WhichBeer) -> list[str]:
    if here.batch is None:
        return ["open"]
    kinds = [*(IN_FERMENTER if here.batch.in_fermenter else IN_ITS_PACKAGE)]
    kinds += ["void"] if here.last is not None else []
    return [*kinds, "open"] if _empty(known) else kinds


def _empty(known: Known) -> str:
    """A fermenter without a beer; empty where there is none."""
    return next((lane.vessel.slug for lane in known.lanes if lane.batch is None), "")


def opened(state: "State", event: FormOpened) -> Step:
    """With what was typed there before, if it was left."""
    known = state.known
    if not known.may_ask:
        return state, (Tell(asking.VIEWER_ONLY, severe=True),)
    here = meant(known, event.subject)
    if here is None:
        return state, ()
    place = (event.kind, here.subject)
    kept = next((one for one in state.drafts if one.place == place), None)
    values = (
        form_of(event.kind, known.instruments).started(_known_before(event.kind, here, known))
        if kept is None
        else kept.values
    )
    about = here.vessel if here.batch is None else here.batch.name
    form = OpenForm(Draft(*place, values), about, _fixed(event, here), instruments=known.instruments)
    return _look(state, form) if event.kind == "void" else (replace(state, form=form), ())


def _fixed(event: FormOpened, here: WhichBeer) -> Mapping[str, str]:
    if event.kind == "void":
        return {"identity": event.entry or (here.last.id if here.last is not None else "")}
    return {} if event.kind == "open" or here.batch is None else {"batch": here.batch.id}


def _known_before(kind: str, here: WhichBeer, known: Known) -> dict[str, str]:
    """What is known already of what a form asks."""
    if kind == "open":
        return {"vessel": here.vessel if here.batch is None else _empty(known)}
    choice = here.batch.package if here.batch is not None else None
    if kind != "package" or choice is None:
        return {}
    named = [word for word, slug in FORMS[kind].fields[0].choices if slug == choice.kind]
    return {"volumes": f"{choice.volumes:g}", **({"package": named[0]} if named else {})}


def typed(state: "State", name: str, value: str) -> Step:
    return (state if state.form is None else replace(state, form=state.form.typed(name, value))), ()


def on(state: "State") -> Step:
    """From the fields to the question; from the question into the inbox."""
    form = state.form
    if form is None or form.stage in {Stage.LOOKING, Stage.KEEPING}:
        return state, ()
    if form.stage is Stage.FILLING:
        return _look(state, form)
    return _keep(state, form.keeping())


def _look(state: "State", form: OpenForm) -> Step:
    looking = form.looking()
    return replace(state, form=looking), (LookAt(looking.draft, looking.kind.command, looking.said),)


def _keep(state: "State", form: OpenForm) -> Step:
    effects = () if form.prepared is None else (Keep(form.draft, form.prepared),)
    return replace(state, form=form), effects


def looked(state: "State", event: Looked) -> Step:
    """An answer to what was typed since is none."""
    form = state.form
    if form is None or form.stage is not Stage.LOOKING or form.draft != event.draft:
        return state, ()
    after = form.looked(event.prepared)
    return _keep(state, after) if after.stage is Stage.KEEPING else (replace(state, form=after), ())


def not_taken(state: "State", event: NotTaken) -> Step:
    """Told in the form, where there are fields to put it right in; nobody there types commands."""
    form = state.form
    hint = "" if event.hint.startswith("As: fermwatch") else event.hint
    text = f"{event.text} {hint}".strip()
    if form is None or form.draft != event.draft:
        return state, (Tell(text, severe=True),)
    if not form.kind.fields:
        return replace(state, form=None), (Tell(text, severe=True),)
    return replace(state, form=form.refused(form.kind.in_its_words(text))), ()


def kept(state: "State", draft: Draft) -> "State":
    """The inbox has it: the form is done with."""
    form = None if state.form is not None and state.form.draft == draft else state.form
    return replace(state, form=form, drafts=tuple(one for one in state.drafts if one.place != draft.place))


def back(state: "State") -> Step:
    """What was typed is there when the form is opened again."""
    form = state.form
    if form is None or form.stage is Stage.KEEPING:
        return state, ()
    before = form.back()
    return (
        (replace(state, form=before), ()) if before is not None else (put_by(replace(state, form=None), form.draft), ())
    )


def put_by(state: "State", draft: Draft) -> "State":
    """Keep a draft for later, unless there is nothing in it."""
    others = tuple(one for one in state.drafts if one.place != draft.place)
    return replace(state, drafts=(*others, draft) if FORMS[draft.kind].fields else others)
