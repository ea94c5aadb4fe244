"""Kegs, PET and sugar, as a person asks about them when a finished beer is filled."""

import re
from pathlib import Path

import pytest

from tests.support.command_line import CommandLine
from tests.support.finished_beer import finished_ale, flat

DESPITE = ("--yes", "--although-not-safe")
KEG_WORDS = ("bottle", "bottling", "glass", "squeeze", "chipped", "open 2026")


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "100")
    return finished_ale(tmp_path / "store", capsys)


def test_a_forced_keg_is_told_its_pressure_and_no_sugar(desk: CommandLine) -> None:
    said = desk.type("batch", "package", "left", "--package", "keg", "--yes")
    assert said.status == 0
    assert "0.75 bar gauge with the beer at 4 °C, for 7 to 14 days" in flat(said)
    assert "table sugar" not in said.text
    assert "relief valve" in said.text
    assert not [word for word in KEG_WORDS if word in said.text.lower()]


def test_a_primed_keg_is_told_its_sugar_valve_and_warmth(desk: CommandLine) -> None:
    primed = ("--package", "keg", "--way", "primed", "--limit-bar", "9", "--volume", "18L")
    said = desk.type("batch", "package", "left", *primed, "--yes")
    assert said.status == 0
    # 2.4 - 0.86 volumes and 0.14 in 5 % of headspace, at 3.84 g/L a volume, for 18 L
    assert "116 g of table sugar" in flat(said)
    assert "relief valve" in said.text
    assert "Let it condition at 20 °C for about 14 days" in flat(said)
    assert not [word for word in KEG_WORDS if word in said.text.lower()]


def test_bottles_put_where_the_yeast_hardly_works_are_told_so_and_not_to_be_squeezed(desk: CommandLine) -> None:
    put = ("--package", "soda-pet", "--volume", "18L", "--warmest", "20C")
    warm = flat(desk.type("batch", "package", "left", *put, "--yes"))
    assert "Squeeze them on days 3, 7 and 14" in warm


def test_at_ten_degrees_no_bottle_is_squeezed(desk: CommandLine) -> None:
    put = ("--package", "soda-pet", "--volume", "18L", "--warmest", "20C", "--conditioning", "10C")
    cold = flat(desk.type("batch", "package", "left", *put, "--yes"))
    assert "At 10 °C it would hardly condition: let it stand at 20 °C for about 14 days, then cool it." in cold
    assert "queeze" not in cold
    desk.attend()
    later = desk.type("status").text
    assert "it hardly conditions" in " ".join(later.split())
    assert "queeze" not in later


@pytest.mark.parametrize(
    ("sugar", "name"), [("dextrose", "corn sugar"), ("Corn sugar", "corn sugar"), ("cane sugar", "table sugar")]
)
def test_sugar_is_known_by_what_stands_on_its_bag(desk: CommandLine, sugar: str, name: str) -> None:
    put = ("--package", "soda-pet", "--volume", "18L", "--warmest", "20C", "--sugar", sugar)
    assert name in flat(desk.type("batch", "package", "left", *put, "--yes"))


def test_sugar_to_weigh_is_told_to_a_scales_digits(desk: CommandLine) -> None:
    put = ("--package", "soda-pet", "--volume", "5", "--warmest", "68F")
    said = flat(desk.type("--units", "us", "batch", "package", "left", *put, "--yes"))
    assert re.search(r"sugar \d\.\d\d oz \(\d+ g\) of table sugar", said), said


def test_a_kegs_limit_is_in_bar_as_its_option_says(desk: CommandLine) -> None:
    put = ("--package", "keg", "--way", "primed", "--volume", "5", "--warmest", "68F")
    told = [flat(desk.type("--units", "us", "bottle", "left", *put[:4], "--limit-bar", bar)) for bar in ("9", "130psi")]
    assert all("limit 131 psi" in one or "limit 130 psi" in one for one in told), told


def test_a_primed_keg_does_not_stand_where_a_forced_one_would(desk: CommandLine) -> None:
    forced = desk.type("bottle", "left", "--package", "keg")
    assert "at 4 °C" in flat(forced)
    assert desk.type("batch", "edit", "left", "--package", "keg", "--yes").status == 0
    desk.attend()
    primed = desk.type("bottle", "left", "--way", "primed", "--limit-bar", "9")
    assert primed.status == 0, primed.text
    assert "yeast sleeps" not in flat(primed)


def test_what_is_set_at_a_keg_is_not_said_to_be_another_pressure(desk: CommandLine) -> None:
    said = flat(desk.type("batch", "package", "left", "--package", "keg", "--volume", "18L", "--yes"))
    assert "pressure as set; with what may still ferment 95 % sure to stay below" in said
    assert "in the middle" not in said


def test_a_primed_keg_in_the_cold_is_refused_with_the_reason(desk: CommandLine) -> None:
    cold = ("--package", "keg", "--way", "primed", "--limit-bar", "9", "--storage", "4C")
    said = desk.type("batch", "package", "left", *cold, *DESPITE)
    assert said.status == 2
    assert "at 4 °C the yeast sleeps" in said.error
    assert "--way forced" in said.error
    assert desk.attend() == []
    assert desk.type("bottle", "left", *cold).status == 1
    assert desk.type("bottle", "left", *cold, "--conditioning", "20C").status == 0


@pytest.mark.parametrize("words", [("--package", "keg"), ("--package", "keg", "--way", "primed", "--limit-bar", "9")])
def test_a_kegs_verdict_talks_of_kegs(desk: CommandLine, words: tuple[str, ...]) -> None:
    said = desk.type("bottle", "left", *words)
    assert said.status == 0
    assert "safe to keg" in said.text
    assert not [word for word in KEG_WORDS if word in said.text.lower()]


def test_a_limit_that_nothing_fits_is_not_laid_to_a_finished_beer(desk: CommandLine) -> None:
    low = ("--package", "keg", "--way", "primed", "--limit-bar", "0.6")
    for words in (("bottle", "left", *low), ("batch", "package", "left", *low, "--warmest", "20C", *DESPITE)):
        said = flat(desk.type(*words))
        assert "No carbonation fits its limit of 0.6 bar" in said
        assert "let it finish" not in said
