"""A finished beer and its package, as a person asks about them: by `bottle`, `batch package`, `batch edit`."""

import json
from datetime import timedelta
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine, command_line
from tests.support.finished_beer import ALE, DAYS, PITCHED, finished_ale, flat

DESPITE = ("--yes", "--although-not-safe")


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "100")
    return finished_ale(tmp_path / "store", capsys)


def test_three_weeks_of_cold_bring_no_co2_back(desk: CommandLine) -> None:
    """Beer finished at 20 °C holds 0.80 to 0.92 volumes, and 1.5 only if it had fermented at 2 °C."""
    begins = desk.clock.now()
    desk.clock.advance(21 * 86400)
    desk.hear("left-beer", {begins + timedelta(minutes=30 * step): 1.5 for step in range(21 * 48)})
    desk.hear("left-float", {begins + timedelta(minutes=30 * step): 1.0115 for step in range(21 * 48)})
    desk.done("measure", "left", "hydrometer", "1.0115", "--degassed", "--yes")
    said = desk.type("batch", "package", "left", "--yes")
    assert "0.80 to 0.92 volumes" in flat(said)
    assert "by the probe: at most 20.0 °C since it finished" in flat(said)


def test_a_cold_crash_unsays_no_safe_package(desk: CommandLine) -> None:
    """What could still ferment was shown warm; cold beer shows less, and has not begun to ferment again."""
    begins = desk.clock.now()
    desk.clock.advance(4 * 86400)
    desk.hear("left-beer", {begins + timedelta(minutes=30 * step): 1.5 for step in range(4 * 48)})
    desk.hear("left-float", {begins + timedelta(minutes=30 * step): 1.0115 for step in range(4 * 48)})
    assert desk.type("bottle", "left").status == 0
    said = desk.type("batch", "package", "left", "--yes")
    assert (said.status, said.error) == (0, "")
    assert "Too much" not in said.text


def test_the_beer_is_safe_in_what_it_is_meant_for(desk: CommandLine) -> None:
    said = desk.type("bottle", "left")
    assert said.status == 0, said.text


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--volumes", "4", "--storage", "4C"), "at 25 °C, should it once get so warm by accident"),
        (("--volumes", "4", "--storage", "4C", "--accident", "20C"), "at 20 °C, where it conditions"),
        (("--volumes", "3.4", "--storage", "35C"), "at 35 °C, where it will stand"),
        (("--volumes", "3.4", "--storage", "4C", "--conditioning", "30C"), "at 30 °C, where it conditions"),
    ],
)
def test_a_cold_store_makes_no_lively_bottle_safe(desk: CommandLine, words: tuple[str, ...], why: str) -> None:
    said = desk.type("bottle", "left", *words)
    assert said.status == 1
    assert "safe to bottle" not in said.text
    assert f"volumes, {why}" in flat(said)


def test_where_it_was_reckoned_is_said_with_the_verdict_the_batch_and_the_packaging(desk: CommandLine) -> None:
    for words in (("bottle", "left"), ("batch", "show", "left"), ("batch", "package", "left", *DESPITE)):
        assert "25 °C, where it will stand" in flat(desk.type(*words))


def test_programs_are_told_too_what_it_was_judged_at(desk: CommandLine) -> None:
    shown = json.loads(desk.type("bottle", "left", "--storage", "4C", "--json").text)
    assert (shown["judged_at_c"], shown["batch"]["package"]["storage_c"]) == (25.0, 4.0)
    assert "accident" in shown["judged_at_because"]


def test_a_lively_bottle_in_the_cold_is_not_packaged_by_a_mere_yes(desk: CommandLine) -> None:
    said = desk.type("batch", "package", "left", "--volumes", "3.8", "--storage", "4C", "--yes")
    assert said.status == 2
    assert "is not declared safe to bottle" in said.error
    most = float(flat(said).split("t most ")[1].split()[0])
    assert 2.8 <= most < 3.1
    assert desk.attend() == []
    assert desk.type("bottle", "left", "--volumes", f"{most:.1f}", "--storage", "4C").status == 0
    assert desk.type("bottle", "left", "--volumes", f"{most + 0.1:.1f}", "--storage", "4C").status == 1


def test_sugar_that_is_too_much_is_never_safe_whatever_was_wanted(desk: CommandLine) -> None:
    said = desk.type("batch", "package", "left", "--dose", "30g/L", "--yes")
    assert said.status == 2
    assert "safe to bottle:" not in said.text
    assert "Too much for a returnable glass bottle" in said.error
    assert desk.attend() == []


def test_the_label_says_what_the_dose_gives_and_not_what_was_wanted(desk: CommandLine) -> None:
    said = desk.type("batch", "package", "left", "--dose", "7g/L", "--yes")
    assert "Harvest Ale · 2.7 volumes · bottled" in flat(said)


def test_the_label_says_from_when_until_when_by_the_kind_of_beer(desk: CommandLine) -> None:
    told = flat(desk.type("batch", "package", "left", "--yes"))
    assert "bottled 2026-03-15" in told
    assert "open from 2026-03-29 · best 2026-04-05 to 2026-07-13" in told


def test_the_verdict_of_the_day_stays_whatever_the_float_says_in_the_sink(desk: CommandLine) -> None:
    desk.done("batch", "package", "left", "--yes")
    for days in (0, 30):
        desk.clock.advance(days * 86400)
        if days:
            desk.hear_steady("left-float", 0.998, hours=29 * 24)
            desk.hear_steady("left-beer", 27.0, hours=29 * 24)
        with desk.watched():
            told = flat(desk.type("batch", "show", "Harvest Ale"))
        assert "gravity then 1.012, 78% attenuated verdict then safe to bottle" in told
    with desk.reader() as reader:
        assert not [alarm for alarm in reader.alarms() if alarm.needs_attention]


def test_where_it_is_cold_the_label_waits_longer(desk: CommandLine) -> None:
    told = flat(desk.type("batch", "package", "left", "--conditioning", "15C", "--yes"))
    assert "open from 2026-04-04" in told  # 14 days at 20 °C are 20 at 15
    assert "Let it condition at 15 °C for about 20 days" in told


def test_bottles_without_sugar_are_said_to_stay_flat(desk: CommandLine) -> None:
    said = desk.type("batch", "package", "left", "--dose", "0", "--yes")
    assert "it stays flat, with the 0.8 to 0.9 volumes that it holds" in flat(said)
    assert "Harvest Ale · flat · bottled" in flat(said)
    for no_word in ("open 2026", "Squeeze", "squeezed", "Weigh"):
        assert no_word not in flat(said)


def test_fewer_volumes_than_it_holds_need_no_sugar(desk: CommandLine) -> None:
    said = desk.type("batch", "package", "left", "--volumes", "0.5", "--yes")
    assert "no sugar is needed: the beer already holds 0.8 to 0.9 volumes" in flat(said)


@pytest.mark.parametrize("kind", ["jar", "jug", "growler", "still-wine-glass", "square-glass", "chipped-glass"])
@pytest.mark.parametrize("words", [("bottle", "left"), ("batch", "package", "left", *DESPITE)])
def test_what_is_not_made_for_pressure_is_refused_whatever_is_said_of_it(
    desk: CommandLine, kind: str, words: tuple[str, ...]
) -> None:
    said = desk.type(*words, "--package", kind, "--limit-bar", "9")
    assert (said.status, "No conditioning beer goes into" in said.error) == (2, True)
    assert desk.attend() == []


@pytest.mark.parametrize(
    ("words", "wanted"),
    [(("--way", "primed"), "--way is of kegs alone"), (("--package", "keg", "--dose", "5"), "no sugar")],
)
def test_what_belongs_to_the_other_is_asked_back(desk: CommandLine, words: tuple[str, ...], wanted: str) -> None:
    said = desk.type("batch", "package", "left", *words, "--yes")
    assert (said.status, wanted in said.error) == (2, True)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--package", "one-way-glass", "--limit-bar", "12"), "no limit to bottle to"),
        (("--package", "heavy-glass,jar"), "No conditioning beer goes into a jar"),
        (("--package", "heavy-glass,keg"), "filled in two ways"),
    ],
)
def test_what_would_make_weak_glass_strong_is_refused(desk: CommandLine, words: tuple[str, ...], told: str) -> None:
    for command in (("bottle", "left"), ("batch", "package", "left", *DESPITE), ("batch", "edit", "left", "--yes")):
        said = desk.type(*command, *words, "--volumes", "5")
        assert (said.status, told in said.error) == (2, True)
    assert desk.attend() == []


def test_of_several_kinds_of_bottles_the_weakest_is_judged(desk: CommandLine) -> None:
    assert desk.type("bottle", "left", "--package", "heavy-glass", "--volumes", "3.4").status == 0
    said = desk.type("bottle", "left", "--package", "heavy-glass,one-way-glass", "--volumes", "3.4")
    assert said.status == 1
    assert "one-way glass bottle, 3.4 volumes" in flat(said)


def test_another_package_after_packaging_is_questioned(desk: CommandLine) -> None:
    desk.done("batch", "package", "left", "--yes")
    said = desk.type("bottle", "left", "--package", "keg")
    assert (said.status, "was packaged today 19:30 already" in said.error) == (2, True)
    edit = ("batch", "edit", "left", "--package", "heavy-glass", "--yes")
    assert "what it is in does not change by this" in desk.type(*edit).error
    assert desk.attend() == []
    desk.done(*edit, "--even-so")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--volume", "30L"), "30 L are more than its fermenter of 23 L holds"),
        (("--volume", "30"), "30 L are more than its fermenter of 23 L holds"),
        (("--volume", "21L"), "21 L are more than the 18 L of the batch"),
        (("--volume", "18L", "--bottles", "19"), "19 bottles for 18 L are 0.95 L each"),
        (("--volume", "18L", "--bottles", "19"), "55 of 0.33 L, 51 of 0.355 L or 36 of 0.50 L"),
        (("--bottles", "180"), "180 bottles for 18 L are 0.10 L each"),
        (("--bottles", "46"), "46 bottles for 18 L are 0.39 L each"),
        (("--units", "us", "--volume", "4.8gal", "--bottles", "46"), "46 bottles for 4.8 US gal are 13.4 fl oz each"),
        (("--units", "us", "--volume", "4.8gal", "--bottles", "46"), "51 of 12 fl oz"),
    ],
)
def test_more_beer_than_there_is_and_bottles_that_do_not_add_up_are_not_recorded_by_a_mere_yes(
    desk: CommandLine, words: tuple[str, ...], told: str
) -> None:
    """30 L out of 18 L: the sugar of 30 L in them would burst bottles. A bottle of 0.95 L is of no ordinary size."""
    general, own = (words[:2], words[2:]) if words[0] == "--units" else ((), words)
    said = desk.type(*general, "batch", "package", "left", *own, "--yes")
    assert said.status == 2
    assert told in " ".join(said.error.split())
    assert desk.attend() == []


def test_what_is_meant_although_it_does_not_add_up_is_recorded(desk: CommandLine) -> None:
    """Two sizes of bottles; or a little more than was thought, as with the syrup."""
    said = desk.done("batch", "package", "left", "--bottles", "46", "--yes", "--even-so")
    assert "Bottles of several sizes?" in flat(said)


@pytest.mark.parametrize("words", [("--volume", "18.6L"), ("--bottles", "35"), ("--bottles", "53"), ()])
def test_what_adds_up_is_not_questioned(desk: CommandLine, words: tuple[str, ...]) -> None:
    desk.done("batch", "package", "left", *words, "--yes")


def test_what_a_blend_brought_may_be_packaged_too(desk: CommandLine) -> None:
    desk.done("add", "left", "blend", "--volume", "4L", "--at", "2026-03-03 18:00", "--yes")
    said = desk.type("batch", "package", "left", "--volume", "22L", "--yes", "--although-not-safe")
    assert "more than" not in said.text + said.error


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--accident", "50C"), "50 °C, should it once get so warm by accident"),
        (("--storage", "45C"), "45 °C, where it will stand"),
        (("--storage", "113F"), "45 °C, where it will stand"),
    ],
)
def test_a_car_and_a_garage_can_be_said(desk: CommandLine, words: tuple[str, ...], told: str) -> None:
    assert told in flat(desk.type("bottle", "left", *words))
    assert told in flat(desk.type("batch", "package", "left", *words))
    calc = desk.type("calc", "risk", "--package", "returnable-glass", "--volumes", "2.4", "--warmest", "20C", *words)
    assert told in flat(calc), calc.error


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("45", "45: in °C or in °F? Say 45C, or 45F (7.2 °C)."),
        ("70", "If you meant °F, that is 21.1 °C"),
        ("70C", "If you meant °F, that is 21.1 °C"),
        ("130C", "If you meant °F, that is 54.4 °C"),
        ("250C", "is outside -2 to 60 °C"),
    ],
)
def test_a_place_that_may_be_in_fahrenheit_is_asked_about(desk: CommandLine, typed: str, told: str) -> None:
    assert told in " ".join(desk.type("bottle", "left", "--storage", typed).error.split())


def test_what_is_refused_of_packaged_beer_names_the_hour_of_the_site(desk: CommandLine) -> None:
    """It said 18:30 UTC to somebody in Vienna, where it was 19:30."""
    desk.done("batch", "package", "left", "--yes")
    desk.clock.advance(3600.0)
    said = desk.type("note", "Harvest Ale", "transfer", "--yes")
    assert said.status != 0
    assert "is in its package since 15 Mar 19:30: no transfer any more" in said.error
    assert desk.attend() == [], "nothing was asked"


def test_butter_in_the_warmed_sample_is_told_at_the_packaging(desk: CommandLine) -> None:
    """`bottle` said it; the packaging said "It is finished and safe to bottle", and nothing of it."""
    desk.done("note", "left", "diacetyl-test", "--failed", "--yes")
    said = desk.type("batch", "package", "left", "--yes")
    assert "The warmed sample smelt of butter on 15 Mar 19:30" in flat(said)
    assert "test again: on 17 Mar 19:30" in flat(said)
    assert said.status != 0
    assert "--even-so" in said.error
    desk.clock.advance(3600.0)
    desk.done("note", "left", "diacetyl-test", "--passed", "--yes")
    assert "butter" not in flat(desk.done("batch", "package", "left", "--yes"))


def test_a_test_that_failed_says_when_to_test_again(desk: CommandLine) -> None:
    said = desk.done("note", "left", "diacetyl-test", "--failed", "--yes")
    assert "Give it two more warm days, and test again: on 17 Mar 19:30" in flat(said)


def test_a_finished_beer_without_a_package_is_not_told_of_too_much(desk: CommandLine) -> None:
    """It said "Too much for this package", and below that "no package is chosen"."""
    desk.done("batch", "end", "Harvest Ale", "--yes")
    desk.done("batch", "open", "Plain Ale", *ALE[3:], "--pitched-at", "2026-03-01 19:30", "--yes")
    desk.done("measure", "left", "hydrometer", "1.0115", "--degassed", "--at", "2026-03-14 18:30", "--yes")
    told = flat(desk.type("bottle", "left"))
    assert "Too much" not in told
    assert "depends on what it goes into" in told
    assert "batch edit left --package returnable-glass --volumes 2.4 --storage 25C" in told


def test_a_package_that_is_only_too_cold_is_told_of_its_cold(desk: CommandLine) -> None:
    """It said "Too much for this package", where the reason is sleeping yeast."""
    cold = ("--conditioning", "4C", "--accident", "4C", "--storage", "4C")
    told = flat(desk.type("bottle", "left", *cold))
    assert "Too much" not in told
    assert "inished. Not in this package: at 4 °C the yeast sleeps" in told
    assert "Let it condition where the yeast works" in told


def test_a_forced_keg_asks_nobody_how_warm_its_beer_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No sugar goes in, so nothing is reckoned on what the beer holds; it was refused without `--warmest`."""
    monkeypatch.setenv("COLUMNS", "100")
    desk = command_line(tmp_path / "no-probe", PITCHED, capsys)
    desk.done(*ALE, "--yes")
    desk.clock.advance(DAYS * 86400)
    said = desk.type("batch", "package", "left", "--package", "keg", *DESPITE)
    assert (said.status, said.error) == (0, "")
    assert "0.75 bar gauge with the beer at 4 °C" in flat(said)
    assert "sugar reckoned" not in flat(said)
    assert "CO2 in it now" not in flat(said)


@pytest.mark.parametrize("words", [("--warmest", "5C", "--ended=-1C"), ("--fed", "--warmest", "5C", "--ended=-1.5C")])
def test_beer_below_its_freezing_point_of_water_is_reckoned_with(desk: CommandLine, words: tuple[str, ...]) -> None:
    """Tables go to -2 °C, about where beer of 5 % freezes; 0 was refused as a slip."""
    for command in (("batch", "package", "left"), ("calc", "priming", "--volumes", "2.4", "--volume", "18L")):
        assert "is outside" not in desk.type(*command, *words).error
    assert "is outside -2 to 40 °C" in desk.type("batch", "package", "left", "--warmest", "5C", "--ended=-3C").error
