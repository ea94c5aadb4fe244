"""Forms as values: what each asks, and what every event makes of it. No terminal, no store."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from fermwatch.commands.written_in import COMMANDS, options_of
from fermwatch.contracts.feed import OutcomesAnswer, OutcomesQuery
from fermwatch.contracts.inbox import Outcome, OutcomeState
from fermwatch.dashboard.events import (
    Answered,
    AskWhatToWrite,
    FieldTyped,
    FormOpened,
    Happening,
    Keep,
    LookAt,
    Looked,
    NotTaken,
    RequestsKept,
    SnapshotRead,
    Tell,
    Wish,
)
from fermwatch.dashboard.forms.form import Stage
from fermwatch.dashboard.forms.table import FORMS, FormField
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.packages import Packages
from fermwatch.dashboard.state import State, absorb
from fermwatch.desk.prepared import Prepared
from fermwatch.requests.shapes import Voiding
from fermwatch.saying import asking
from tests.dashboard.ferments import lane_with_a_story
from tests.dashboard.snapshots import NOW, healthy, in_package, snapshot

FIELDS = [(name, one) for name, form in FORMS.items() for one in form.fields]
READY = Prepared((("what", "a reading"),), Voiding("e1"), "Store it?", "Stored.")


def after(state: State, *events: Happening) -> State:
    for event in events:
        state, _ = absorb(state, event)
    return state


def beside_a_beer(*, may_ask: bool = True) -> State:
    return after(State(Known(may_ask=may_ask)), SnapshotRead(snapshot(lane_with_a_story(), healthy())))


def measuring(**typed: str) -> State:
    state = after(beside_a_beer(), FormOpened("measure", "left"))
    return after(state, *(FieldTyped(name, value) for name, value in typed.items()))


@pytest.mark.parametrize(("form", "asked"), FIELDS, ids=[f"{form}-{one.name}" for form, one in FIELDS])
def test_every_field_is_an_option_of_the_command_that_reads_it(form: str, asked: FormField) -> None:
    options = options_of(FORMS[form].command)
    assert asked.name in options
    assert asked.listed is (options[asked.name] == []), "a list where the command takes one"


def test_every_form_is_read_by_a_command_that_there_is() -> None:
    assert {form.command for form in FORMS.values()} == set(COMMANDS)


def test_what_is_left_empty_is_not_said_and_what_is_not_asked_neither() -> None:
    note = FORMS["note"]
    values = note.started({}) | {"what": "taste", "text": " banana ", "gravity": "1.010", "at": "  "}
    assert note.said(values) == {"what": "taste", "text": ["banana"]}
    values |= {"what": "forced ferment ended"}
    assert note.said(values)["gravity"] == "1.010"
    assert note.said(values)["other_yeast"] is False


@pytest.mark.parametrize(
    ("form", "what", "field"), [("note", "warm-sample test", "passed"), ("in-package", "", "gushed")]
)
def test_what_safety_rests_on_is_never_there_by_itself(form: str, what: str, field: str) -> None:
    """A tested beer is bottled, and a calm bottle says that the others hold."""
    values = FORMS[form].started({"what": what} if what else {})
    assert field in {one.name for one in FORMS[form].asked(values)}
    assert field not in FORMS[form].said(values)


def test_a_commands_sentence_is_told_in_the_words_of_the_form() -> None:
    said = FORMS["measure"].in_its_words(
        "No --sample temperature, say --degassed or --even-so. fermwatch measure void 01X"
    )
    assert FORMS["note"].in_its_words("Say --passed or --failed.") == "Say passed or failed."
    assert said == 'No "sample at" temperature, say "gas stirred out" or even so. e, then n to it, then x'


def test_own_instruments_stand_before_others_and_are_asked_what_their_kind_is() -> None:
    state = after(
        State(Known(instruments={"narrow": "hydrometer", "pocket": "refractometer"})),
        SnapshotRead(snapshot(lane_with_a_story(), healthy())),
        FormOpened("measure", "left"),
    )
    assert state.form is not None
    kind = state.form.kind
    first = kind.fields[0]
    assert [word for word, _ in first.choices] == ["narrow", "pocket", "hydrometer", "refractometer"]
    assert state.form.draft.values["instrument"] == "narrow"
    for word, asked in (("narrow", "degassed"), ("pocket", "original_brix")):
        there = {one.name for one in kind.asked({"instrument": word})}
        assert {"degassed", "original_brix"} & there == {asked}
    state, (look,) = absorb(after(state, FieldTyped("reading", "1.020")), Wish.FORM_ON)
    assert isinstance(look, LookAt)
    assert look.said["instrument"] == "narrow"


def test_who_may_only_look_is_told_so_before_typing() -> None:
    state = beside_a_beer(may_ask=False)
    assert absorb(state, Wish.WRITE) == (state, (Tell(asking.VIEWER_ONLY, severe=True),))
    assert absorb(state, FormOpened("measure", "left"))[0].form is None


def offered(state: State) -> list[str]:
    _, (effect,) = absorb(state, Wish.WRITE)
    assert isinstance(effect, AskWhatToWrite)
    return [kind for kind, _ in effect.kinds]


def test_what_can_be_written_in_depends_on_where_the_beer_is() -> None:
    assert offered(beside_a_beer()) == ["measure", "note", "add", "declare", "package", "void"]
    empty = replace(healthy(), batch=None, judgement=None)
    assert offered(after(State(), SnapshotRead(snapshot(empty)))) == ["open"]
    packaged = replace(snapshot(healthy()), in_package=(in_package("Stout", 20.0),))
    state = after(State(pages=(Packages("packaged beers"),)), SnapshotRead(packaged))
    assert offered(state) == ["in-package", "void"]


def test_from_the_fields_to_the_question_to_the_inbox() -> None:
    state = measuring(reading="1.020")
    state, (look,) = absorb(state, Wish.FORM_ON)
    assert isinstance(look, LookAt)
    assert look.command == "measure"
    assert look.said == {"instrument": "hydrometer", "reading": "1.020", "degassed": False, "batch": "batch-left"}
    state, effects = absorb(state, Looked(look.draft, READY))
    assert state.form is not None
    assert (state.form.stage, effects) == (Stage.ASKING, ())
    state, effects = absorb(state, Wish.FORM_ON)
    assert effects == (Keep(look.draft, READY),)
    assert state.form is not None, "it is not said to be kept before the inbox has it"
    assert absorb(state, Wish.FORM_ON) == (state, ()), "and not sent twice"
    assert absorb(state, Wish.FORM_BACK) == (state, ())
    state = after(state, RequestsKept(("left:1",), "Stored.", look.draft))
    assert state.form is None
    assert [one.request_key for one in state.awaited] == ["left:1"]


def test_an_answer_to_what_was_typed_over_since_is_none() -> None:
    state, (look,) = absorb(measuring(reading="1.020"), Wish.FORM_ON)
    assert isinstance(look, LookAt)
    state = after(state, FieldTyped("reading", "1.030"), Looked(look.draft, READY))
    assert state.form is not None
    assert (state.form.stage, state.form.prepared) == (Stage.FILLING, None)


def test_what_is_wrong_is_told_in_the_form_and_nothing_typed_is_lost() -> None:
    state, (look,) = absorb(measuring(reading="1020", sample="hot"), Wish.FORM_ON)
    assert isinstance(look, LookAt)
    state, effects = absorb(state, NotTaken(look.draft, "--sample: 'hot' is not a number.", "As: fermwatch measure x"))
    assert effects == ()
    assert state.form is not None
    assert state.form.wrong == "\"sample at\": 'hot' is not a number."
    assert values(state) == {"reading": "1020", "sample": "hot"}


def values(state: State) -> Mapping[str, str]:
    assert state.form is not None
    return {name: value for name, value in state.form.draft.values.items() if name in {"reading", "sample"}}


def test_an_inbox_that_refuses_leaves_the_form_as_it_was() -> None:
    state, (look,) = absorb(measuring(reading="1.020"), Wish.FORM_ON)
    assert isinstance(look, LookAt)
    state = after(state, Looked(look.draft, READY), Wish.FORM_ON, NotTaken(look.draft, "The disk is full."))
    assert state.form is not None
    assert (state.form.stage, state.form.wrong) == (Stage.FILLING, "The disk is full.")
    assert values(state) == {"reading": "1.020"}


def test_what_was_typed_is_there_again_after_the_form_was_closed_or_refused() -> None:
    state = after(measuring(reading="1.020"), Wish.FORM_BACK)
    assert state.form is None
    state = after(state, FormOpened("measure", "left"))
    assert values(state) == {"reading": "1.020"}
    state, (look,) = absorb(state, Wish.FORM_ON)
    assert isinstance(look, LookAt)
    state = after(state, Looked(look.draft, READY), Wish.FORM_ON, RequestsKept(("left:1",), "Stored.", look.draft))
    assert values(after(state, FormOpened("measure", "left"))) == {}, "kept: the next reading is another"
    refused = OutcomesAnswer(
        OutcomesQuery(("left:1",)), (Outcome("left:1", OutcomeState.REFUSED, "Not like this.", NOW),), watched=True
    )
    state, effects = absorb(state, Answered(refused))
    assert effects == (Tell("Not like this.", severe=True),)
    assert values(after(state, FormOpened("measure", "left"))) == {"reading": "1.020"}


def test_what_asks_nobody_goes_on_its_way_at_once_unless_there_is_something_to_mind() -> None:
    state, (look,) = absorb(after(beside_a_beer(), FormOpened("note", "left")), Wish.FORM_ON)
    assert isinstance(look, LookAt)
    silent = replace(READY, question="")
    assert absorb(state, Looked(look.draft, silent))[1] == (Keep(look.draft, silent),)
    told = after(state, Looked(look.draft, replace(silent, minded=("Draws air in.",))))
    assert told.form is not None
    assert told.form.stage is Stage.ASKING


def test_taking_back_is_of_the_last_entry_by_a_person_and_asks_at_once() -> None:
    _, (look,) = absorb(beside_a_beer(), FormOpened("void", "left"))
    assert isinstance(look, LookAt)
    assert (look.command, look.said) == ("void", {"identity": "m2"})
    _, (look,) = absorb(beside_a_beer(), FormOpened("void", "left", "e1"))
    assert isinstance(look, LookAt)
    assert look.said == {"identity": "e1"}


def test_taking_back_has_nothing_to_put_right_and_closes() -> None:
    state, (look,) = absorb(beside_a_beer(), FormOpened("void", "left"))
    assert isinstance(look, LookAt)
    told = absorb(state, NotTaken(look.draft, "It is voided already."))
    assert told[0].form is None
    assert told[1] == (Tell("It is voided already.", severe=True),)
    assert after(state, Looked(look.draft, READY), Wish.FORM_BACK).form is None
