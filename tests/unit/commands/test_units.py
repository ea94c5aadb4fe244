"""`fermwatch units`: chosen once, kept for the person, and what goes before what."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.cli import main
from fermwatch.commands.context import Context
from fermwatch.config.preferences import save_look, saved_look, saved_units
from fermwatch.errors import InputError
from fermwatch.saying.voice import CANONICAL, US, Gallon, Units, turns, units_of


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    return tmp_path / "fermwatch" / "preferences.toml"


def said(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    capsys.readouterr()
    assert main(list(words)) == status
    shown = capsys.readouterr()
    return shown.err if status else shown.out


def test_what_is_chosen_is_kept_and_used(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "°C and SG (nothing else was chosen)" in said(capsys, "units")
    assert said(capsys, "units", "us", "plato") == f"From now on: °F and °P. Kept in {file}.\n"
    assert f"°F and °P (by {file})" in said(capsys, "units")
    assert "psi" in said(capsys, "calc", "keg", "2.4")
    assert [one.name for one in file.parent.iterdir()] == [file.name]


def test_an_option_goes_before_the_environment_and_that_before_what_is_kept(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    said(capsys, "units", "us")
    monkeypatch.setenv("FERMWATCH_UNITS", "metric,plato")
    assert "°C and °P (by FERMWATCH_UNITS)" in said(capsys, "units")
    assert "°F and °P (by --units)" in said(capsys, "units", "--units", "us plato")
    assert "°F and °P (by --units)" in said(capsys, "--units", "us plato", "units")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("units = 3", 'preferences.toml: units: must be words in quotes, as "us".'),
        ("units = ", "preferences.toml: is not TOML"),
        ('units = "furlongs"', "preferences.toml: 'furlongs' is no unit known here."),
    ],
)
def test_a_damaged_file_is_one_sentence_and_mended_by_choosing_anew(
    file: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    file.parent.mkdir()
    file.write_text(text)
    assert main(["units"]) == 0
    complaint = capsys.readouterr().err
    assert words in complaint
    assert len(complaint.splitlines()) == 2
    said(capsys, "units", "us")
    assert "°F and SG" in said(capsys, "units")


def test_the_colours_of_the_dashboard_are_kept_beside_the_units(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    environment = {"XDG_CONFIG_HOME": str(file.parent.parent)}
    assert saved_look(environment) == ""
    said(capsys, "units", "us")
    save_look("light", environment)
    assert saved_look(environment) == "light"
    assert "°F and SG" in said(capsys, "units")
    said(capsys, "units", "metric")
    assert saved_look(environment) == "light"


def test_what_stands_in_the_file_is_written_back_as_it_was(file: Path) -> None:
    environment = {"XDG_CONFIG_HOME": str(file.parent.parent)}
    file.parent.mkdir()
    file.write_text('units = "a\\"b"\n')
    save_look("dark", environment)
    assert saved_units(environment) == 'a"b'


@pytest.mark.parametrize("text", ["look = 3", "look = ", ""])
def test_colours_that_cannot_be_read_are_those_that_suit_the_terminal(file: Path, text: str) -> None:
    file.parent.mkdir()
    file.write_text(text)
    assert saved_look({"XDG_CONFIG_HOME": str(file.parent.parent)}) == ""


def test_a_directory_that_cannot_be_written_is_one_sentence(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file.parent.write_text("in the way")
    assert "preferences.toml: cannot be written: " in said(capsys, "units", "us", status=78)


def test_a_word_that_is_none_names_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "units", "gallons", status=2)
    assert "'gallons' is no unit known here" in told
    assert "us-gallons, imperial-gallons" in told


def test_a_gallon_is_asked_about_once(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heat = ("calc", "heat", "1.052", "1.010", "--volume", "5gal")
    asked = said(capsys, *heat, status=2)
    assert "which gallon?" in asked
    assert "fermwatch units imperial-gallons" in asked
    said(capsys, "units", "imperial-gallons")
    assert "5 imp gal" in said(capsys, *heat)
    said(capsys, "units", "us")
    assert "5 US gal" in said(capsys, *heat)


units = st.builds(Units, st.booleans(), st.booleans(), st.sampled_from((None, *Gallon)))


@given(units)
def test_words_of_units_make_the_same_units(chosen: Units) -> None:
    assert units_of(" ".join(chosen.words), what="test") == chosen


def test_words_are_taken_from_left_to_right() -> None:
    assert units_of("", what="test") == CANONICAL
    assert units_of("us, Plato", what="test") == Units(fahrenheit=True, plato=True, gallon=Gallon.US)
    assert units_of("us celsius", what="test") == Units(gallon=Gallon.US)
    with pytest.raises(InputError, match="--units: 'furlongs'"):
        units_of("us furlongs", what="--units")


def test_us_units_turn_to_metric_ones_to_plato_and_back() -> None:
    assert turns(US) == (CANONICAL, Units(plato=True), US)


def test_a_person_without_a_home_is_told_so() -> None:
    assert Context(None, None, None, {"HOME": "/nonexistent"}).units == CANONICAL
