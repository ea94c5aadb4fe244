"""Small mistakes at the command line, each answered with what was meant."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.cli import main
from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.inbox.sending import put
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.plain_data import to_plain
from tests.support.command_line import CommandLine, command_line
from tests.support.samples import request

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
OPEN = ("batch", "open", "Harvest Ale", "--vessel", "left", "--yeast", "clean-ale", "--volume", "18L", "--yes")


@pytest.fixture
def empty(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "100")
    return command_line(tmp_path / "store", NOW, capsys)


@pytest.fixture
def desk(empty: CommandLine) -> CommandLine:
    """A batch at 1.052 was pitched a week ago."""
    empty.done(*OPEN, "--og", "1.052", "--at", "2026-02-22 18:00")
    return empty


def flat(text: str) -> str:
    return " ".join(text.split())


def measured(desk: CommandLine) -> list[GravityMeasurement]:
    with desk.reader() as reader:
        return list(reader.measurements(reader.batches()[0].id))


def minutes_later(desk: CommandLine, minutes: float) -> None:
    desk.clock.advance(timedelta(minutes=minutes).total_seconds())


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("batch", "open", "x", "--pitched", "now"), "--pitched is not known: did you mean --pitched-at?"),
        (("measure", "left", "hydrometer", "1.012", "--degas"), "--degas is not known: did you mean --degassed?"),
        (("note", "left", "crash", "--targ", "2C"), "--targ is not known: did you mean --target?"),
        (("status", "--jso"), "--jso is not known: did you mean --json?"),
    ],
)
def test_no_option_is_taken_for_another(words: tuple[str, ...], meant: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
    assert meant in capsys.readouterr().err


def test_at_says_when_it_happened_everywhere(desk: CommandLine) -> None:
    with desk.reader() as reader:
        assert reader.batches()[0].pitched_at == datetime(2026, 2, 22, 17, tzinfo=UTC)


def test_a_refractometers_gravity_is_asked_back_with_what_would_be_stored(empty: CommandLine) -> None:
    said = empty.type(*OPEN, "--og", "1.060", "--og-by", "refractometer")
    assert said.status == 2
    assert "14.7Bx" in said.error
    assert "stored as 1.057" in said.error
    assert "wort factor 1.04" in said.error
    empty.done(*OPEN, "--og", "14.7Bx", "--og-by", "refractometer")
    with empty.reader() as reader:
        assert round(reader.batches()[0].original_sg, 3) == 1.057


def test_two_instruments_far_apart_in_one_minute_are_doubted(desk: CommandLine) -> None:
    desk.done("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
    minutes_later(desk, 1)
    said = desk.type("measure", "left", "refractometer", "9.4Bx", "--yes")
    assert said.status == 2
    assert "That is 15 points above the hydrometer's 1.0120 of 1 Mar 19:30" in flat(said.error)
    assert "--even-so" in said.error
    desk.done("measure", "left", "refractometer", "9.4Bx", "--yes", "--even-so")
    assert len(measured(desk)) == 2


def test_a_fall_that_no_beer_can_make_is_doubted(desk: CommandLine) -> None:
    desk.done("measure", "left", "hydrometer", "1.040", "--sample", "20C", "--degassed", "--yes")
    minutes_later(desk, 30)
    said = desk.type("measure", "left", "hydrometer", "1.014", "--sample", "20C", "--degassed", "--yes")
    assert "That is 26 points below the hydrometer's 1.0400 of 1 Mar 19:30" in flat(said.error)
    minutes_later(desk, 24 * 60)
    desk.done("measure", "left", "hydrometer", "1.014", "--sample", "20C", "--degassed", "--yes")


def test_readings_that_agree_are_not_doubted(desk: CommandLine) -> None:
    desk.done("measure", "left", "hydrometer", "1.012", "--sample", "20C", "--degassed", "--yes")
    minutes_later(desk, 1)
    desk.done("measure", "left", "hydrometer", "1.0125", "--sample", "20C", "--degassed", "--yes")
    desk.done("measure", "left", "refractometer", "6.6Bx", "--yes")


@pytest.mark.parametrize("part", [slice(0, 12), slice(-8, None)])
def test_a_short_identity_is_enough_to_void(desk: CommandLine, part: slice) -> None:
    desk.done("measure", "left", "hydrometer", "1.030", "--sample", "20C", "--degassed", "--yes")
    (one,) = measured(desk)
    desk.done("measure", "void", one.id[part].lower(), "--yes")
    assert measured(desk)[0].voided


def test_a_short_identity_of_several_lists_them(desk: CommandLine) -> None:
    for gravity in ("1.030", "1.0295"):
        desk.done("measure", "left", "hydrometer", gravity, "--sample", "20C", "--degassed", "--yes")
    first, second = measured(desk)
    said = desk.type("measure", "void", first.id[:8], "--yes")
    assert said.status == 2
    assert first.id in said.error
    assert second.id in said.error
    assert not any(one.voided for one in measured(desk))


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("dry-hop", "60g of green ones"), "dry-hop --grams 60"),
        (("dry-hop", "--grams", "45"), "dry-hop --grams 45"),
        (("sugar", "--grams", "2oz", "--name", "honey"), "sugar --grams 2oz --name honey"),
        (("blend", "--volume", "3L"), "blend --volume 3L"),
        (("remark", "green ones", "--grams", "45"), "dry-hop --grams 45"),
    ],
)
def test_what_goes_into_the_beer_is_added_and_the_note_says_so(
    desk: CommandLine, words: tuple[str, ...], meant: str
) -> None:
    said = desk.type("note", "left", *words)
    assert said.status == 2
    assert f'fermwatch add "left" {meant}' in flat(said.error)


def test_an_empty_fermenter_is_told_from_an_unknown_one(empty: CommandLine) -> None:
    assert "The fermenter left holds no open batch." in empty.type("batch", "show", "left").error
    assert "There is no batch 'attic'." in empty.type("batch", "show", "attic").error


def test_an_unknown_fermenter_is_named_before_anything_is_taken_in(empty: CommandLine, tmp_path: Path) -> None:
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    log.write_text("time,probe,quantity,value\n2026-02-22T18:05:00Z,T1,temperature_C,19.4\n")
    batch.write_text('name = "Amber"\nog_sg = 1.05\npitched_at = 2026-02-22T18:00:00Z\nyeast = "clean-ale"\n')
    said = empty.type("import", str(log), "--batch", str(batch), "--vessel", "attic")
    assert said.status == 2
    assert said.error.startswith("fermwatch: There is no fermenter 'attic'.\n  There is: left, right. ")
    with empty.reader() as reader:
        assert reader.batches(ended=True) == ()


def test_the_last_line_of_a_replay_gives_its_reasons(empty: CommandLine, tmp_path: Path) -> None:
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    rows = "".join(
        f"{NOW - timedelta(hours=200 - hour):%Y-%m-%dT%H:%M:%SZ},T1,temperature_C,19.4\n" for hour in range(0, 190, 2)
    )
    log.write_text(f"time,probe,quantity,value\n{rows}")
    pitched = f"{NOW - timedelta(hours=200):%Y-%m-%dT%H:%M:%SZ}"
    batch.write_text(f'name = "Amber"\nog_sg = 1.05\npitched_at = {pitched}\nyeast = "clean-ale"\n')
    said = empty.type("replay", str(log), "--batch", str(batch))
    after = said.text[said.text.index("end of the log") :].splitlines()
    assert len(after) >= 2
    assert after[1].startswith(" " * 16)


def test_a_setting_of_the_rules_that_is_no_number_is_told_as_that(desk: CommandLine) -> None:
    for number in ("nan", "-3", "1e9"):
        said = desk.type("batch", "edit", "left", "--rule", f"outside_warning_h={number}")
        assert said.status == 2
        assert f"--rule outside_warning_h: {float(number):g} cannot be meant; it lies from 0 to 100,000." in said.error


def test_no_gravity_is_said_that_nothing_could_read(desk: CommandLine) -> None:
    """However large what was said to be added is, as 100 kg of sugar to 18 L."""
    with desk.reader() as reader:
        batch = reader.batches()[0]
    sugar = Event("E1", NOW - timedelta(days=3), EventKind.SUGAR, {"grams": 100_000.0})
    put(desk.directory, request(RequestKind.EVENT, {"batch": batch.id, "event": to_plain(sugar)}))
    for days, gravity_sg in ((2, 1.200), (1, 1.199)):
        measured = GravityMeasurement(f"M{days}", NOW - timedelta(days=days), gravity_sg)
        put(desk.directory, request(RequestKind.MEASURE, {"batch": batch.id, "measurement": to_plain(measured)}))
    assert [one.reason for one in desk.attend() if one.state is not OutcomeState.DONE] == []
    minutes_later(desk, 5 * 24 * 60)
    with desk.watched():
        shown = "".join(
            desk.type(*words).text for words in (("status",), ("bottle", "left"), ("batch", "show", "left"))
        )
    said = [float(number) for number in re.findall(r"(?<![\d.])\d\.\d{3}(?!\d)", shown)]
    assert said
    assert [one for one in said if not 0.970 <= one <= 1.200] == []


@pytest.mark.parametrize("name", ["--at", "--pitched-at"])
def test_an_option_is_told_by_the_name_that_was_typed(empty: CommandLine, name: str) -> None:
    empty.clock.set(timedelta(days=240))
    said = empty.type(*OPEN, "--og", "1.052", name, "2026-10-25 02:30")
    assert f"fermwatch: {name}: 2026-10-25 02:30 came twice" in said.error


@pytest.mark.parametrize("name", ["--sample", "--temperature"])
def test_a_samples_temperature_is_told_by_the_name_that_was_typed(desk: CommandLine, name: str) -> None:
    said = desk.type("measure", "left", "hydrometer", "1.012", name, "tepid", "--degassed", "--yes")
    assert said.error.startswith(f"fermwatch: {name}: ")
