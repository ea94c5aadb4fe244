"""Measurements, notes and additions by text command, over a real store."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.model.batch import Event, EventKind, GravityMeasurement, Instrument
from tests.support.command_line import CommandLine, command_line

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
DAY = 86400.0


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """A batch at 1.052 was pitched a week ago."""
    monkeypatch.setenv("COLUMNS", "80")
    desk = command_line(tmp_path / "store", NOW, capsys)
    desk.done(
        *("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--yes"),
        *("--pitched-at", "2026-02-22 18:00", "--volume", "18L"),
    )
    return desk


def measurements(desk: CommandLine) -> tuple[GravityMeasurement, ...]:
    with desk.reader() as reader:
        return reader.measurements(reader.batches()[0].id)


def events(desk: CommandLine) -> tuple[Event, ...]:
    with desk.reader() as reader:
        return reader.events(reader.batches()[0].id)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_a_hydrometer_reading_is_stored_corrected_beside_what_was_read(desk: CommandLine) -> None:
    said = desk.done("measure", "left", "hydrometer", "1.012", "--sample", "25C", "--degassed", "--yes")
    (stored,) = measurements(desk)
    assert stored.gravity_sg == pytest.approx(1.01312, abs=0.00005)  # ICUMSA and glass: +1.12 points at 1.012 and 25 °C
    assert (stored.reading, stored.unit, stored.sample_temperature_c) == (1.012, "SG", 25.0)
    assert 0.5 <= stored.sd_points <= 0.7
    assert (stored.at, stored.degassed, stored.instrument) == (NOW, True, Instrument.HYDROMETER)
    assert "1.0131 ±0.0005 SG 20/20" in said.text


def test_a_water_check_is_taken_off(desk: CommandLine) -> None:
    desk.done(
        "measure", "left", "hydrometer", "1.013", "--sample", "20C", "--water-check", "1.001", "--degassed", "--yes"
    )
    (stored,) = measurements(desk)
    assert stored.gravity_sg == pytest.approx(1.012, abs=0.00002)
    assert "1.001" in stored.correction


def test_an_old_scale_is_told_apart(desk: CommandLine) -> None:
    """At 15.56 °C the stem of that scale reads true; 10 °P read 1.04017 there and 1.03998 on 20/20 (Plato's tables)."""
    desk.done("measure", "left", "hydrometer", "1.04017", "--sample", "60F", "--scale", "60F", "--degassed", "--yes")
    assert measurements(desk)[0].gravity_sg == pytest.approx(1.03998, abs=0.00005)


def test_gas_is_warned_of_and_the_reading_not_judged(desk: CommandLine) -> None:
    said = desk.done("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--yes")
    assert "Not degassed" in said.text
    assert not measurements(desk)[0].degassed


def test_a_refractometer_goes_by_the_wort_it_read(desk: CommandLine) -> None:
    said = desk.done("measure", "left", "refractometer", "6.2Bx", "--original-brix", "13.4", "--yes")
    (stored,) = measurements(desk)
    assert stored.instrument is Instrument.REFRACTOMETER
    assert stored.sd_points >= 2.0
    assert 1.006 < stored.gravity_sg < 1.010
    assert "one hydrometer reading settles the level" in flat(said.text)


def test_a_reading_that_rises_is_doubted(desk: CommandLine) -> None:
    desk.done("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
    desk.clock.advance(DAY)
    said = desk.type("measure", "left", "hydrometer", "1.016", "--sample", "20C", "--degassed", "--yes")
    assert "4.0 points higher than on " in flat(said.text)


def test_a_rise_after_sugar_is_no_wonder(desk: CommandLine) -> None:
    desk.done("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
    desk.clock.advance(DAY)
    desk.done("add", "left", "sugar", "--grams", "400", "--yes")
    said = desk.type("measure", "left", "hydrometer", "1.016", "--sample", "20C", "--degassed", "--yes")
    assert "points higher" not in said.text


def test_a_reading_far_from_the_probe_is_doubted(desk: CommandLine) -> None:
    desk.hear_steady("left-float", 1.022)
    words = ("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
    assert "10 points below the probe, which says 1.022" in flat(desk.type(*words).text)


def test_a_reading_near_the_probe_is_not(desk: CommandLine) -> None:
    desk.hear_steady("left-float", 1.014)
    words = ("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
    assert "the probe" not in desk.type(*words).text


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("measure", "left", "hydrometer", "1.062", "--sample", "20C", "--degassed"), "10 points above the original"),
        (
            ("measure", "left", "hydrometer", "1.050", "--sample", "20C", "--degassed", "--at", "2026-02-20 18:00"),
            "before Harvest Ale was pitched",
        ),
        (("note", "left", "smell", "apples", "--at", "2026-02-20 18:00"), "before Harvest Ale was pitched"),
        (("add", "left", "dry-hop", "--grams", "60", "--at", "2026-02-20 18:00"), "before Harvest Ale was pitched"),
        (("add", "left", "sugar", "--grams", "60", "--name", "sucrsoe"), "did you mean sucrose?"),
    ],
)
def test_what_is_doubted_is_stored_only_by_more_than_a_yes(
    desk: CommandLine, words: tuple[str, ...], told: str
) -> None:
    said = desk.type(*words, "--yes")
    assert said.status == 2
    assert told in said.error
    assert "--even-so" in said.error
    assert desk.attend() == []
    desk.done(*words, "--yes", "--even-so")


def test_an_observation_that_is_doubted_is_asked_about(desk: CommandLine) -> None:
    assert desk.type("note", "left", "smell", "apples", "--at", "2026-02-20 18:00").status == 2
    assert desk.attend() == []


@pytest.mark.parametrize(
    "words",
    [
        ("add", "left", "dry-hop", "--grams", "60", "my hop", "--yes"),
        ("add", "left", "dry-hop", "my", "--grams", "60", "--yes", "hop"),
        ("note", "left", "smell", "--yes", "my", "hop"),
    ],
)
def test_words_may_follow_the_options(desk: CommandLine, words: tuple[str, ...]) -> None:
    desk.done(*words)
    assert events(desk)[0].text == "my hop"


def test_sugar_says_what_it_changes(desk: CommandLine) -> None:
    said = desk.done("add", "left", "sugar", "--grams", "200", "--yes")
    assert "the original gravity that you gave stays as it is" in flat(said.text)
    with desk.reader() as reader:
        assert reader.batches()[0].original_sg == 1.052


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("hydrometer", "1012"), "Did you mean 1.012?"),
        (("hydrometer", "-1.012"), "Did you mean 1.012?"),
        (("hydrometer", "foamy"), "is not a number"),
        (("hydrometer", "1.012", "--sample", "68"), "If you meant °F"),
        (("hydrometer", "1.012", "--scale", "25C"), "Known: 20C, 15.56C, 60F."),
        (("hydrometer", "1.012", "--water-check", "1.100"), "points off"),
        (("refractometer", "1.012"), "looks like a specific gravity"),
        (("refractometer", "14.2", "--original-brix", "12.4"), "swapped"),
        (("thermometer", "20"), "is no instrument"),
        ((), "What was read"),
    ],
)
def test_a_slip_is_one_line_that_says_what_was_meant(desk: CommandLine, words: tuple[str, ...], told: str) -> None:
    said = desk.type("measure", "left", *words, "--yes")
    assert said.status == 2
    assert told in said.error
    assert desk.attend() == []


def test_a_mistyped_reading_is_voided_and_stays(desk: CommandLine) -> None:
    desk.done("measure", "left", "hydrometer", "1.084", "--sample", "20C", "--degassed", "--yes", "--even-so")
    identity = measurements(desk)[0].id
    said = desk.done("measure", "void", identity, "--reason", "mistyped", "--yes")
    assert "1.084 ±0.5 points" in said.text
    assert measurements(desk)[0].voided
    assert "VOIDED" in desk.type("measure", "list", "left").text
    assert "already voided" in desk.type("measure", "void", identity, "--yes").error


def test_an_observation_is_stored_without_asking(desk: CommandLine) -> None:
    desk.done("note", "left", "smell", "a", "little", "sulphur")
    (event,) = events(desk)
    assert (event.kind, event.data["what"], event.text) == (EventKind.OBSERVATION, "smell", "a little sulphur")


def test_a_diacetyl_test_says_how_until_it_has_an_outcome(desk: CommandLine) -> None:
    said = desk.type("note", "left", "diacetyl-test", "--yes")
    assert "60 °C for 20 to 30 minutes" in said.error
    assert "hot liquid" in said.error
    desk.done("note", "left", "diacetyl-test", "--passed", "--yes")
    assert events(desk)[0].data == {"passed": True}


def test_a_forced_ferment_is_corrected_like_any_reading(desk: CommandLine) -> None:
    desk.done("note", "left", "forced-ferment", "--gravity", "1.009", "--sample", "25C", "--kept-at", "26C", "--yes")
    (event,) = events(desk)
    assert event.kind is EventKind.FORCED_FERMENT
    assert event.data["gravity_sg"] == pytest.approx(1.0101, abs=0.0001)
    assert (event.data["same_yeast"], event.data["temperature_c"]) == (True, 26.0)


@pytest.mark.parametrize(
    ("words", "kind", "data"),
    [
        (("note", "left", "crash", "--target", "1C"), EventKind.CRASH, {"target_c": 1.0}),
        (("note", "left", "transfer"), EventKind.TRANSFER, {}),
        (("note", "left", "remark", "lid opened"), EventKind.NOTE, {}),
        (
            ("add", "left", "dry-hop", "--grams", "2oz", "--name", "green"),
            EventKind.DRY_HOP,
            {"grams": 56.7, "name": "green"},
        ),
        (("add", "left", "sugar", "--grams", "200"), EventKind.SUGAR, {"grams": 200.0, "name": "sucrose"}),
        (("add", "left", "fruit", "--grams", "1.5kg"), EventKind.FRUIT, {"grams": 1500.0, "name": "fruit"}),
        (("add", "left", "blend", "--volume", "2L"), EventKind.BLEND, {"volume_l": 2.0, "name": "beer"}),
    ],
)
def test_what_is_done_to_the_beer_is_kept(
    desk: CommandLine, words: tuple[str, ...], kind: EventKind, data: dict[str, object]
) -> None:
    desk.done(*words, "--yes", "--even-so")  # nothing shows that it has finished
    (event,) = events(desk)
    assert (event.kind, event.data, event.at) == (kind, data, NOW)


def test_what_changes_a_conclusion_is_asked_about(desk: CommandLine) -> None:
    assert desk.type("add", "left", "sugar", "--grams", "200").status == 2
    assert desk.attend() == []


def test_an_addition_without_its_amount_is_refused(desk: CommandLine) -> None:
    assert "--grams" in desk.type("add", "left", "fruit", "--yes").error


def test_an_event_is_voided_by_its_identity(desk: CommandLine) -> None:
    desk.done("add", "left", "sugar", "--grams", "200", "--yes")
    desk.done("note", "void", events(desk)[0].id, "--yes")
    assert events(desk)[0].voided


def test_a_terminal_that_knows_only_ascii_gets_ascii(desk: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    from fermwatch.commands.context import Context

    monkeypatch.setattr(Context, "ascii_only", True)
    said = desk.type("measure", "left", "hydrometer", "1.012", "--sample", "25C", "--yes")
    assert said.text.isascii()
    assert "+/-" in said.text
