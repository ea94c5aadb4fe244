"""A plan of temperatures as a person uses it: looked at, begun, followed by the beer, held, skipped and given up."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.desk import asking
from fermwatch.inbox.sending import put
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Trend, Verdict
from fermwatch.report.status import status_text
from fermwatch.requests.shapes import Happened
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_feed, open_writer

NOW = datetime(2026, 3, 11, 18, 30, tzinfo=UTC)  # 19:30 in Vienna, a Wednesday
ALE = (
    *("batch", "open", "Porch Ale", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale"),
    *("--temperature", "17-21", "--volume", "18L", "--pitched-at", "2026-03-08 18:00", "--yes"),
)
DAY = 86_400.0
STEPS = "18C until 60%; 20C until steady and tested; 2C for 2 days"


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "store", NOW, capsys)
    desk.done(*ALE)
    desk.hear_steady("left-beer", 17.5)  # calibrated by +0.5
    return desk


def judge(
    desk: CommandLine, attenuation: float, phase: Phase = Phase.ACTIVE, kind: VerdictKind = VerdictKind.NOT_YET
) -> None:
    """Let the watcher have judged it so."""
    now = desk.clock.now()
    writer = open_writer(desk.directory, "home", now, ballast_bytes=4096)
    (batch,) = writer.batches()
    trend = Trend(now, 1.050 - 0.050 * attenuation, 0.5, -4.0, 0.3, attenuation)
    done = datetime(2026, 3, 15, 18, 30, tzinfo=UTC)
    forecast = Forecast(now, 1.0125, 1.011, 1.014, done, done, done)
    verdict = Verdict(kind, now)
    writer.save_judgement(batch.id, Judgement(now, trend, PhaseStatement(phase, now), forecast, verdict))
    writer.close()


def in_one_line(text: str) -> str:
    return " ".join(text.split())


def status(desk: CommandLine) -> str:
    feed = open_feed(desk.directory, "home")
    try:
        return in_one_line(status_text(feed.snapshot(desk.clock.now()), 100))
    finally:
        feed.close()


def test_a_plan_is_looked_at_before_it_is_begun(desk: CommandLine) -> None:
    judge(desk, 0.30)
    said = desk.type("plan", "preview", "left", "--steps", STEPS)
    assert said.status == 0, said.error
    told = in_one_line(said.text)
    assert "plan: step 1 of 3, 18 °C until 60 % of the way; waits for the beer, now at 39 % of the way" in told
    assert "39 % of the way (attenuation 30 of 77 %)" in told
    assert "2 20 °C until steady and tested about tomorrow 08:29" in told
    assert "3 2 °C for 2 days about 17 Mar 19:30, once it is safe" in told
    assert desk.type("plan", "show", "left").status != 0, "nothing was begun"


def test_another_plan_does_not_silently_take_the_place_of_one_that_is_under_way(desk: CommandLine) -> None:
    desk.done("plan", "use", "left", "--steps", STEPS)
    again = desk.type("plan", "use", "left", "--steps", "19C until told")
    assert again.status != 0
    told = in_one_line(again.error)
    assert "Porch Ale follows a plan already, which this one would take the place of: plan: step 1 of 3, 18 °C" in told
    assert "Add --instead" in told
    assert "fermwatch plan change left" in told
    assert "step 1 of 3, 18 °C" in in_one_line(desk.type("plan", "show", "left").text)
    desk.clock.advance(60.0)
    meant = in_one_line(desk.done("plan", "use", "left", "--steps", "19C until told", "--instead").text)
    assert "would take the place of: plan: step 1 of 3, 18 °C" in meant
    assert "step 1 of 1, 19 °C" in in_one_line(desk.type("plan", "show", "left").text)
    desk.clock.advance(60.0)
    desk.done("plan", "stop", "left")
    desk.done("plan", "use", "left")


def test_what_suits_the_yeast_is_used_where_nothing_is_said(desk: CommandLine) -> None:
    said = in_one_line(desk.done("plan", "use", "left").text)
    assert "plan ale: step 1 of 3, 18.5 °C until 60 % of the way" in said
    assert "Set the controller, or the fridge, to 18.5 °C now: only a controller that was armed" in said
    assert "Plan ale: step 1 of 3, 18.5 °C until 60 % of the way; waits for the beer, nothing measured yet" in watch(
        desk, hours=0
    )


def test_no_crash_is_dated_before_the_beer_can_be_called_safe(desk: CommandLine) -> None:
    """By the forecast alone it began on Tuesday, before the reading that the verdict asks for."""
    desk.done("batch", "edit", "left", "--package", "returnable-glass", "--volumes", "2.3", "--storage", "25C", "--yes")
    dated = []
    for gravity, hours in (("1.030", 0), ("1.018", 24), ("1.012", 48)):
        desk.clock.advance(hours * 3600.0)
        desk.hear_steady("left-beer", 19.0, hours=24)
        measure(desk, gravity)
        watch(desk, hours=3)
        verdict = json.loads(desk.type("bottle", "left", "--json").text)["judgement"]["verdict"]
        previewed = json.loads(desk.type("plan", "preview", "left", "--json").text)["plan"]
        assert verdict["safe_from"] >= (verdict["next_reading_at"] or ""), "a reading settles it when it is taken"
        dated.append((previewed["steps"][2]["begins_at"], verdict["safe_from"]))
    known = [(crash, safe) for crash, safe in dated if crash is not None]
    assert known
    assert all(crash >= safe for crash, safe in known)


def test_a_plan_begins_where_the_beer_is(desk: CommandLine) -> None:
    """It began in a step that was over, and went on from a temperature that nobody had set."""
    measure(desk, "1.020")
    watch(desk, hours=3)
    desk.hear_steady("left-beer", 17.5)
    previewed = in_one_line(desk.type("plan", "preview", "left").text)
    assert "step 2 of 3, 20.5 °C by 1.0 °C a day until steady and tested; by now at 18.0 °C" in previewed
    assert "It begins in step 2: what ends the one before is met already." in previewed
    desk.done("plan", "use", "left")
    with desk.reader() as reader:
        (step,) = [one for one in reader.events(reader.batches()[0].id) if one.kind is EventKind.PLAN]
    assert (step.data["step"], step.data["from_c"]) == (2.0, 18.0)
    assert "step 1 of 3" in in_one_line(desk.type("plan", "preview", "left", "--from", "1").text)


def test_a_ramp_by_hand_is_told_as_it_begins_a_day_at_a_time(desk: CommandLine) -> None:
    """It was told once the beer was a degree behind: a day later, or never."""
    measure(desk, "1.020")
    watch(desk, hours=3)
    desk.hear_steady("left-beer", 17.5)
    desk.done("plan", "use", "left")
    desk.clock.advance(1200.0)
    desk.hear_steady("left-beer", 17.5)
    watch(desk, hours=0)
    desk.clock.advance(1200.0)
    desk.hear_steady("left-beer", 17.5)
    shown = watch(desk, hours=0)
    assert "by the plan: today to 19.0 °C, on the way (step 2 of 3" in shown
    assert "Set the controller, or the fridge, to 19.0 °C." in shown
    desk.clock.advance(12 * 3600.0)
    desk.hear_steady("left-beer", 18.8)
    assert "by the plan" not in watch(desk, hours=0), "the beer has come along"


def test_on_80_columns_no_word_is_broken(desk: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    shown = desk.type("plan", "preview", "left", "--steps", f"{STEPS}; 18C at 2C/day until told").text
    assert max(map(len, shown.splitlines())) <= 80
    _, table = shown.split("\n\n")
    column = table.splitlines()[0].index("BEGINS")
    begins = " ".join(line[column:].strip() for line in table.splitlines())
    assert begins == "BEGINS now not known yet not known yet, once it is safe not known yet"


def test_a_plan_goes_on_by_the_beer_and_never_cold_before_it_is_safe(desk: CommandLine) -> None:
    desk.done("batch", "edit", "left", "--package", "returnable-glass", "--volumes", "2.3", "--storage", "25C", "--yes")
    desk.done("plan", "use", "left", "--steps", STEPS)
    measure(desk, "1.032")
    assert "waits for the beer, now at 47 % of the way" in watch(desk, hours=3)
    measure(desk, "1.024")
    assert "step 2 of 3, 20 °C until steady and tested" in watch(desk, hours=12)
    desk.hear_steady("left-beer", 17.5)
    assert "by the plan: 20 °C (step 2 of 3" in watch(desk, hours=0), "to be set by hand: the beer is at 18"
    desk.clock.advance(5 * DAY)
    desk.hear_steady("left-beer", 19.5, hours=5 * 24)
    measure(desk, "1.0125")
    desk.done("note", "left", "diacetyl-test", "--passed", "--yes")
    shown = watch(desk, hours=3)
    assert "step 2 of 3" in shown
    assert "by the plan" not in shown, "the beer is at 20"
    desk.clock.advance(4 * DAY)
    desk.hear_steady("left-beer", 19.5, hours=4 * 24)
    measure(desk, "1.0125")
    assert "step 3 of 3, 2 °C for 2 days" in watch(desk, hours=3)
    assert desk.type("bottle", "left").status == 0, "it was safe by then"
    assert "until it is warmed again" not in status(desk)
    with desk.reader() as reader:
        told = [plain(entry.text) for entry in reader.journal()]
        kinds = [event.kind for event in reader.events(reader.batches()[0].id)]
    assert any("the plan, the plan of Porch Ale: step 3 of 3" in text for text in told)
    assert kinds.count(EventKind.PLAN) == 3, "no step began twice"
    assert kinds.count(EventKind.CRASH) == 1


def measure(desk: CommandLine, gravity: str) -> None:
    desk.done("measure", "left", "hydrometer", gravity, "--sample", "20C", "--degassed", "--even-so", "--yes")


def watch(desk: CommandLine, *, hours: float) -> str:
    """Later, with the watcher restarted twice meanwhile; what is shown."""
    for _ in range(3):
        desk.clock.advance(hours / 3 * 3600.0)
        with desk.watched():
            shown = status(desk)
    return shown


def test_cold_by_somebodys_word_needs_a_reason_that_is_kept(desk: CommandLine) -> None:
    desk.done("plan", "use", "left", "--steps", "18C until 60%; 2C for 2 days")
    judge(desk, 0.50)
    desk.clock.advance(60.0)
    refused = desk.type("plan", "skip", "left")
    assert refused.status != 0
    assert "It has not finished" in refused.error
    assert 'Meant all the same? Add --although "WHY".' in refused.error
    assert "step 1 of 2" in status(desk)
    said = in_one_line(desk.done("plan", "skip", "left", "--although", "a fridge that is needed").text)
    assert "Cooling beer draws air in" in said
    assert "although a fridge that is needed" in in_one_line(desk.type("batch", "show", "left").text)


def test_a_plan_is_held_goes_on_is_changed_and_given_up(desk: CommandLine) -> None:
    desk.done("plan", "use", "left", "--steps", STEPS)
    desk.clock.advance(60.0)
    desk.done("plan", "hold", "left")
    judge(desk, 0.60)
    with desk.watched():
        assert "step 1 of 3, 18 °C until 60 % of the way, held there" in status(desk)
    assert "is held already" in desk.type("plan", "hold", "left").error
    desk.clock.advance(60.0)
    desk.done("plan", "change", "left", "--steps", "18C until 90%; 20C until told")
    desk.clock.advance(60.0)
    desk.done("plan", "resume", "left")
    with desk.watched():
        assert "step 1 of 2, 18 °C until 90 % of the way" in status(desk)
    desk.clock.advance(60.0)
    desk.done("plan", "stop", "left")
    assert "plan" not in status(desk).casefold()
    assert desk.type("plan", "show", "left").error.startswith("fermwatch: Porch Ale has no plan.")


@pytest.mark.parametrize(
    ("declared", "told"),
    [
        (("rest", "--target", "21C"), True),
        (("rest", "--target", "18C"), False),  # what the plan wants
        (("crash", "--even-so"), True),
        (("remark", "smells of apples"), False),
    ],
)
def test_what_is_declared_beside_a_plan_does_not_change_it_and_that_is_told(
    desk: CommandLine, declared: tuple[str, ...], told: bool
) -> None:
    desk.done("plan", "use", "left", "--steps", STEPS)
    desk.clock.advance(60.0)
    said = desk.type("note", "left", *declared, "--yes")
    assert said.status == 0, said.error
    wants = "Its plan wants 18.0 °C all the same, and a controller that was armed goes by the plan."
    assert (wants in in_one_line(said.text)) is told
    assert ("fermwatch plan stop left" in in_one_line(said.text)) is told


@pytest.mark.parametrize(
    "words", [("skip",), ("hold",), ("resume",), ("change", "--steps", "20C until told"), ("use",)]
)
@pytest.mark.parametrize(
    "left", [("end", "left", "--yes"), ("package", "left", "--package", "keg", "--yes", "--although-not-safe")]
)
def test_no_plan_leads_a_beer_that_has_left_its_fermenter(
    desk: CommandLine, words: tuple[str, ...], left: tuple[str, ...]
) -> None:
    desk.done("plan", "use", "left", "--steps", STEPS)
    desk.clock.advance(60.0)
    desk.done("batch", *left)
    desk.clock.advance(60.0)
    said = desk.type("plan", words[0], "Porch Ale", *words[1:])
    assert said.status != 0
    assert "Porch Ale has left its fermenter: no plan leads it any more." in in_one_line(said.error)
    assert "Stored" not in said.text


def test_a_step_that_was_voided_can_begin_again(desk: CommandLine) -> None:
    """Its identity was taken, and the batch could not be judged any more."""
    desk.done("plan", "use", "left", "--steps", STEPS)
    measure(desk, "1.024")
    assert "step 2 of 3" in watch(desk, hours=6)
    with desk.reader() as reader:
        (step,) = [one for one in reader.events(reader.batches()[0].id) if one.data.get("step") == 2.0]
    desk.done("note", "void", step.id, "--yes")
    shown = watch(desk, hours=1)
    assert "step 2 of 3" in shown
    assert "cannot" not in shown


def test_programs_are_told_in_canonical_units(desk: CommandLine) -> None:
    judge(desk, 0.30)
    desk.done("plan", "use", "left", "--steps", "64.4F until 60%; 68F at 3.6F/day until steady")
    said = json.loads(desk.type("plan", "show", "left", "--json", "--units", "us").text)
    assert said["plan"]["set_point_c"] == 18.0
    assert said["plan"]["waits_for"] == ["way"]
    assert [step["c_per_day"] for step in said["plan"]["steps"]] == [None, 2.0]
    assert said["plan"]["steps"][1]["begins_at"].startswith("2026-03-12")
    told = in_one_line(desk.type("plan", "show", "left", "--units", "us").text)
    assert "64 °F until 60 % of the way" in told
    assert "°C" not in told


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (("use", "left", "--steps", "18"), "--steps: step 1: '18' does not begin with a temperature"),
        (("use", "left", "--steps", "12C"), "this yeast ferments from 17 °C on, and a crash goes to -0.5–5 °C"),
        (("use", "left", "--steps", STEPS, "--from", "4"), "--from: there is no step 4 of 3"),
        (("use", "left", "--steps", STEPS, "--from", "3"), "Nothing was stored."),
        (("change", "left"), "With what steps?"),
        (("skip", "left"), "Porch Ale has no plan."),
        (("use", "right"), "The fermenter right holds no open batch."),
    ],
)
def test_what_cannot_be_planned_is_told_with_its_remedy(desk: CommandLine, words: tuple[str, ...], error: str) -> None:
    said = desk.type("plan", *words)
    assert said.status != 0
    assert error in in_one_line(said.error)
    assert len(said.error.splitlines()) >= 2, "the remedy stands under it"


@pytest.mark.parametrize(
    "begun", ["9999-12-31T23:59:59+00:00", "2026-04-01T00:00:00+00:00", "1990-01-01T00:00:00+00:00"]
)
def test_a_plan_that_somebody_forged_is_refused_at_the_door(desk: CommandLine, begun: str) -> None:
    with desk.reader() as reader:
        (batch,) = reader.batches()
    data: dict[str, float | str | bool] = {"steps": "18C at 1C/day", "begun": begun, "from_c": 20.0}
    asked = Happened(batch.id, Event("FORGED", NOW, EventKind.PLAN, data))
    put(desk.directory, asking.request(asked, site="home", user="eve", now=NOW))
    (outcome,) = desk.attend()
    assert outcome.state == "refused"
    assert "no step begins after it is told" in outcome.reason


def test_a_forged_step_into_the_cold_needs_a_reason_too(desk: CommandLine) -> None:
    with desk.reader() as reader:
        (batch,) = reader.batches()
    asked = Happened(batch.id, Event("FORGED", NOW, EventKind.PLAN, {"steps": "18C; 2C", "step": 2.0}))
    put(desk.directory, asking.request(asked, site="home", user="eve", now=NOW))
    (outcome,) = desk.attend()
    assert outcome.state == "refused"
    assert "A cold step needs a reason" in outcome.reason
