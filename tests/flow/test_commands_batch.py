"""Batches by text command: typed, put into the inbox, carried out as the watcher does, and read back from the store."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.model.batch import Batch, EventKind, GravityOrigin, Instrument, PackageChoice
from tests.support.command_line import CommandLine, command_line

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
PACKAGE = ("--package", "returnable-glass", "--yes")
ALE = ("batch", "open", "Harvest Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--volume", "18L")


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "80")
    return command_line(tmp_path / "store", NOW, capsys)


def only(desk: CommandLine) -> Batch:
    with desk.reader() as reader:
        (batch,) = reader.batches(ended=True)
        return batch


def test_a_batch_is_stored_as_described(desk: CommandLine) -> None:
    said = desk.done(
        *ALE,
        *("--origin", "topped-up", "--temperature", "18-21", "--attenuation", "74-79", "--lag-max", "30h"),
        *("--alcohol-tolerance", "9", "--diastatic", "--pitched-at", "2026-03-01 18:00"),
        *("--package", "heavy-glass", "--volumes", "3.1", "--storage", "25C", "--limit-bar", "7.0"),
        *("--adjunct", "sucrose=20g/L", "--adjunct", "lactose=10", "--notes", "first of the year", "--yes"),
    )
    batch = only(desk)
    assert (batch.name, batch.vessel, batch.original_sg, batch.volume_l) == ("Harvest Ale", "left", 1.052, 18.0)
    assert batch.fermenter_volume_l == 23.0  # the configured one
    assert batch.pitched_at == datetime(2026, 3, 1, 17, tzinfo=UTC)  # 18:00 in Vienna
    assert batch.original_origin is GravityOrigin.TOPPED_UP
    assert (batch.yeast.temperature_low_c, batch.yeast.temperature_high_c) == (18.0, 21.0)
    assert (batch.yeast.attenuation_low, batch.yeast.attenuation_high) == (0.74, 0.79)
    assert (batch.yeast.lag_max_h, batch.yeast.alcohol_tolerance_abv, batch.yeast.diastatic) == (30.0, 9.0, True)
    assert batch.package == PackageChoice("heavy-glass", 3.1, 25.0, 7.0)
    assert batch.extract_adjuncts_g_per_l == {"sucrose": 20.0, "lactose": 10.0}
    assert batch.notes == "first of the year"
    assert "no watcher is running" in said.text


def test_a_refractometers_original_gravity_is_corrected_by_its_wort_factor(desk: CommandLine) -> None:
    desk.done(*ALE[:5], "--og", "13.0Bx", "--og-by", "refractometer", "--yeast", "lager", "--yes")
    batch = only(desk)
    assert batch.original_sg == pytest.approx(1.0504, abs=0.0002)  # 12.5 °P
    assert batch.original_by is Instrument.REFRACTOMETER


def test_nothing_is_stored_without_a_yes(desk: CommandLine) -> None:
    said = desk.type(*ALE)
    assert said.status == 2
    assert "--yes" in said.error
    assert desk.attend() == []


def test_hot_wort_is_told_of_before_it_is_pitched(desk: CommandLine) -> None:
    desk.hear_steady("left-beer", 26.0)  # the probe is calibrated by +0.5
    assert "The wort is 26.5 °C, 4.5 °C above the yeast's 17–22 °C" in desk.type(*ALE, "--yes").text


def test_wort_that_has_been_cooled_meanwhile_is_not_called_hot(desk: CommandLine) -> None:
    desk.hear("left-beer", {NOW - timedelta(minutes=minute): 19.6 if minute <= 12 else 31.0 for minute in range(1, 60)})
    assert "The wort is" not in desk.type(*ALE, "--yes").text


def test_an_edit_does_not_talk_of_pitching(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    desk.hear_steady("left-beer", 26.0)
    assert "before you pitch" not in desk.type("batch", "edit", "left", "--volumes", "2.4", *PACKAGE).text


def test_wort_within_the_range_is_not_talked_about(desk: CommandLine) -> None:
    desk.hear_steady("left-beer", 19.0)
    assert "The wort is" not in desk.type(*ALE, "--yes").text


def test_what_the_wort_measures_today_says_nothing_of_a_pitch_last_week(desk: CommandLine) -> None:
    desk.hear_steady("left-beer", 26.0)
    assert "The wort is" not in desk.type(*ALE, "--pitched-at", "2026-02-20 18:00", "--yes").text


def test_short_headspace_is_told_of(desk: CommandLine) -> None:
    said = desk.type(*ALE[:-1], "20L", "--yes")
    assert "Headspace is 13%" in said.text
    assert "blow-off" in said.text
    assert "Headspace is" not in desk.type(*ALE[:-1], "18L", "--yes").text


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--package", "returnable-glass", "--volumes", "3.6", "--storage", "4C"), "too much for a returnable glass"),
        (("--package", "returnable-glass", "--volumes", "2.8", "--storage", "4C"), ""),
        (("--package", "keg", "--volumes", "2.4"), ""),
        (("--package", "keg", "--way", "primed", "--storage", "4C"), "At 4 °C the yeast sleeps"),
        (("--package", "keg", "--way", "primed", "--volumes", "2.4"), "say what is stamped on your keg"),
    ],
)
def test_a_package_that_will_not_do_is_told_of_at_the_pitch(
    desk: CommandLine, words: tuple[str, ...], told: str
) -> None:
    said = " ".join(desk.type(*ALE, *words, "--yes").text.split())
    assert told in said
    assert told or "too much for" not in said


def test_a_forced_ferment_sample_is_asked_for_every_time(desk: CommandLine) -> None:
    for _ in range(2):
        assert "Keep 0.25 L" in " ".join(desk.type(*ALE, "--yes").text.split())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--og", "1048"), "--og: 1048? Did you mean 1.048?"),
        (("--og", "-1.048"), "--og: -1.048? Did you mean 1.048?"),
        (("--og", "12.4"), "looks like °Plato or °Brix"),
        (("--og", "12.4Bx"), "by which instrument?"),
        (("--og", ""), "--og: No gravity was given"),
        (("--og", "soon"), "--og: 'soon' is not a number"),
        (("--og", "1,048"), "Use a point for decimals"),
        (("--volume", "5gal"), "which gallon?"),
        (("--volume", "24L"), "do not fit into a fermenter of 23 L"),
        (("--temperature", "64-70"), "If you meant °F"),
        (("--attenuation", "0.74-0.79"), "did you mean 74?"),
        (("--vessel", "cellar"), "There is: left, right."),
        (("--yeast", "magic"), "is not a kind of yeast known here"),
        (("--package", "growler"), "No conditioning beer goes into a growler."),
        (("--pitched-at", "23:50"), 'Did you mean "yesterday 23:50"?'),
        (("--pitched-at", "soon"), "is no time"),
    ],
)
def test_a_slip_is_one_line_that_says_what_was_meant(desk: CommandLine, words: tuple[str, str], told: str) -> None:
    said = desk.type(*ALE, *words, "--yes")
    assert said.status == 2
    assert told in said.error
    assert len(said.error.splitlines()) <= 2
    assert desk.attend() == []


def test_an_occupied_fermenter_is_refused_with_the_way_out(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    said = desk.type(*ALE, "--yes")
    assert said.status == 2
    assert 'batch end "Harvest Ale"' in said.error


@pytest.mark.parametrize("words", ["Harvest Ale", "harvest ale", "left", None])
def test_a_batch_is_found_by_name_fermenter_or_being_the_only_one(desk: CommandLine, words: str | None) -> None:
    desk.done(*ALE, "--yes")
    said = desk.type("batch", "show", *([words] if words else []))
    assert said.text.startswith("batch            Harvest Ale in left")


def test_a_batch_is_found_by_the_beginning_of_its_identity(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    identity = only(desk).id
    assert identity in desk.type("batch", "show", identity[:10].lower()).text
    assert desk.type("batch", "show", identity[:3]).status == 2


def test_which_of_several_is_asked_by_naming_them(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    desk.done("batch", "open", "Dark Lager", "--vessel", "right", "--og", "1.050", "--yeast", "lager", "--yes")
    said = desk.type("batch", "show")
    assert said.status == 2
    assert "Harvest Ale" in said.error
    assert "Dark Lager" in said.error


def test_an_edit_changes_what_was_said_and_nothing_else(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "returnable-glass", "--storage", "25C", "--yes")
    before = only(desk)
    said = desk.done("batch", "edit", "left", "--volumes", "2.8", "--attenuation", "70-75", "--yes")
    after = only(desk)
    assert "->" in said.text
    assert after.package == PackageChoice("returnable-glass", 2.8, 25.0)
    assert (after.yeast.attenuation_low, after.yeast.temperature_low_c) == (0.70, before.yeast.temperature_low_c)
    assert (after.original_sg, after.pitched_at, after.version) == (before.original_sg, before.pitched_at, 2)


def test_an_edit_of_nothing_is_refused(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    assert "Nothing would change" in desk.type("batch", "edit", "left", "--yes").error


def test_the_list_fits_80_columns_whatever_a_beer_is_called(desk: CommandLine) -> None:
    name = "Harvest Supper Ale of May"
    desk.done("batch", "open", name, *ALE[3:], "--yes")
    listed = desk.type("batch", "list").text
    assert max(map(len, listed.splitlines())) <= 80
    told = only(desk)
    assert told.id in listed, "an identity is copied as a whole"
    assert " ".join(line[:12].strip() for line in listed.splitlines()[1:]).split()[:3] == ["Harvest", "Supper", "Ale"]


def test_an_ended_batch_leaves_the_list_and_stays_in_the_history(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    desk.done("batch", "end", "left", "--yes")
    assert "Harvest Ale" not in desk.type("batch", "list").text
    assert "ended" in desk.type("batch", "list", "--all").text
    assert only(desk).ended_at == NOW


def test_json_gives_the_batch_with_units_in_the_names(desk: CommandLine) -> None:
    desk.done(*ALE, "--yes")
    shown = json.loads(desk.type("batch", "show", "left", "--json").text)
    assert shown["batch"]["original_sg"] == 1.052
    assert shown["batch"]["yeast"]["temperature_low_c"] == 17.0
    assert json.loads(desk.type("batch", "list", "--json").text)["batches"] == [shown["batch"]]


def test_packaging_reckons_the_sugar_and_is_recorded(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "returnable-glass", "--storage", "25C", "--yes")
    for _ in range(2):
        desk.clock.advance(7 * 86400)
        desk.done("measure", "left", "hydrometer", "1.0115", "--degassed", "--yes")
    said = desk.done(
        "batch",
        "package",
        "left",
        "--warmest",
        "20C",
        "--volumes",
        "2.4",
        "--volume",
        "17L",
        "--bottles",
        "36",
        "--yes",
    )
    with desk.reader() as reader:
        (event,) = reader.events(only(desk).id)
    assert event.kind is EventKind.PACKAGED
    assert event.data["package"] == "returnable-glass"
    # 0.80 volumes are left at 20 °C, up to 15 % more; sucrose gives a volume per 3.84 g/L
    assert event.data["sugar_g_per_l"] == pytest.approx((2.4 - 0.86) * 3.84, rel=0.01)
    assert (event.data["bottles"], event.data["volume_l"]) == (36.0, 17.0)
    assert "chance that a bottle exceeds its limit" in " ".join(said.text.split())


def packaging(*words: str) -> tuple[str, ...]:
    return ("batch", "package", "left", "--warmest", "20C", *words)


def test_what_is_not_declared_safe_is_not_packaged_by_a_mere_yes(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "returnable-glass", "--yes")
    said = desk.type(*packaging("--yes"))
    assert said.status == 2
    assert "Harvest Ale is not declared safe to bottle: " in said.error
    assert "fermwatch bottle" in said.error
    assert "--although-not-safe" in said.error
    assert desk.attend() == []


def test_a_batch_is_packaged_once_unless_the_first_time_was_voided(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "returnable-glass", "--yes")
    desk.done(*packaging("--yes", "--although-not-safe"))
    with desk.reader() as reader:
        (event,) = reader.events(only(desk).id)
    said = desk.type(*packaging("--yes", "--although-not-safe"))
    assert said.status == 2
    assert f"fermwatch note void {event.id}" in said.error
    desk.done("note", "void", event.id, "--yes")
    desk.done(*packaging("--yes", "--although-not-safe"))


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        (("heavy-glass", "--storage", "8C"), {"package": "heavy-glass", "conditioning_c": 20.0, "storage_c": 8.0}),
        (("soda-pet", "--conditioning", "23C"), {"package": "soda-pet", "conditioning_c": 23.0, "storage_c": 30.0}),
        (
            ("keg", "--way", "primed", "--storage", "15C", "--limit-bar", "9"),
            {"package": "keg", "way": "primed", "conditioning_c": 20.0, "storage_c": 15.0},
        ),
    ],
)
def test_what_comes_after_packaging_finds_where_it_conditions_and_stands(
    desk: CommandLine, words: tuple[str, ...], kept: dict[str, object]
) -> None:
    desk.done(*ALE, "--yes")
    desk.done(*packaging("--package", *words, "--yes", "--although-not-safe"))
    with desk.reader() as reader:
        (event,) = reader.events(only(desk).id)
    assert {key: event.data.get(key) for key in kept} == kept
    assert ("way" in event.data) is (words[0] == "keg")


def test_bottling_is_asked_about_for_another_storage_than_the_batchs_own(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "heavy-glass", "--storage", "20C", "--limit-bar", "7", "--yes")
    for words, told in (
        ((), {"volumes": 2.4, "storage_c": 20.0}),
        (("--storage", "25C", "--volumes", "2.8vol"), {"volumes": 2.8, "storage_c": 25.0}),
    ):
        choice = asked_of_bottling(desk, *words)
        assert choice == PackageChoice("heavy-glass", told["volumes"], told["storage_c"], 7.0)
    said = desk.type("bottle", "left", "--storage", "25X")
    assert (said.status, "--storage: 25X is no temperature" in said.error) == (2, True)


def asked_of_bottling(desk: CommandLine, *words: str) -> PackageChoice | None:
    from fermwatch.cli import parser_for
    from fermwatch.commands.bottle import _with_package

    words = ("bottle", "left", *words)
    return _with_package(only(desk), parser_for(words).parse_args(words)).package


def test_packaging_takes_the_warmest_from_the_probe(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "returnable-glass", "--yes")
    desk.clock.advance(10 * 86400)
    desk.hear_steady("left-beer", 21.5, hours=100)
    said = desk.type("batch", "package", "left", "--yes")
    assert "by the probe: at most 22.0 °C" in " ".join(said.text.split())


def test_packaging_without_any_temperature_asks_for_it(desk: CommandLine) -> None:
    desk.done(*ALE, "--package", "returnable-glass", "--yes")
    assert "--warmest" in desk.type("batch", "package", "left", "--yes").error


def test_the_place_may_be_said_after_the_part(desk: CommandLine) -> None:
    assert desk.type("batch", "list", "--store", str(desk.directory)).status == 0


def test_times_are_those_of_the_watcher_where_one_runs_fast(desk: CommandLine) -> None:
    """In the demo the deciding instant is not the machine's."""
    from dataclasses import replace

    from fermwatch.contracts.store import WatcherStatus
    from tests.support.stores import open_writer

    demo_now = NOW + timedelta(days=40)
    writer = open_writer(desk.directory, "home", NOW, ballast_bytes=4096)
    status = WatcherStatus("0", 1, NOW, NOW, NOW, stopped=True)
    writer.beat(replace(status, now=demo_now))
    writer.close()
    desk.type(*ALE, "--yes")
    desk.clock.at = demo_now
    desk.attend()
    assert only(desk).pitched_at == demo_now


def test_a_name_with_escapes_is_told_without_them(desk: CommandLine) -> None:
    told = desk.type(
        "batch", "open", "y\x1b[31m\u202ep", "--vessel", "right", "--og", "1.050", "--yeast", "clean-ale", "--yes"
    )
    assert "\x1b" not in told.text + told.error
    assert "\u202e" not in told.text + told.error


def test_a_note_too_long_to_be_kept_whole_is_not_cut_in_silence(desk: CommandLine) -> None:
    desk.type("batch", "open", "Ale", "--vessel", "right", "--og", "1.050", "--yeast", "clean-ale", "--yes")
    told = desk.type("note", "right", "remark", "x" * 501)
    assert told.status == 2
    assert "501 letters, and 500 are kept" in told.error
