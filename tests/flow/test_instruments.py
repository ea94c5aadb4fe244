"""`fermwatch instrument`: what is so of a person's own hydrometer is said once, and counted in with every reading."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fermwatch.config.instruments import OwnInstrument, instruments_file, keep, own_instruments
from fermwatch.model.batch import Instrument
from tests.support.command_line import CommandLine, command_line

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("HOME", str(tmp_path / "ann"))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    desk = command_line(tmp_path / "store", NOW, capsys)
    desk.done("batch", "open", "Ale", "--vessel", "left", "--og", "1.052", "--yeast", "clean-ale", "--yes")
    desk.clock.advance(4 * 86400)
    return desk


READING = ("--sample", "20C", "--degassed", "--yes")


def gravities(desk: CommandLine) -> list[float]:
    with desk.reader() as reader:
        (batch,) = reader.open_batches()
        return [one.gravity_sg for one in reader.measurements(batch)]


def test_a_reading_by_name_is_the_same_as_with_its_options(desk: CommandLine) -> None:
    kept = desk.type("instrument", "narrow", "hydrometer", "--scale", "60F", "--water-check", "1.001")
    assert kept.status == 0, kept.error
    desk.done("measure", "left", "hydrometer", "1.020", "--scale", "60F", "--water-check", "1.001", *READING)
    desk.clock.advance(60)
    desk.done("measure", "left", "narrow", "1.020", *READING)
    spelt, named = gravities(desk)
    assert named == spelt
    assert named != 1.020
    desk.clock.advance(60)
    desk.done("measure", "left", "narrow", "1.020", "--water-check", "1.000", *READING)
    assert gravities(desk)[-1] == pytest.approx(named + 0.001, abs=1e-4)


def test_several_are_kept_listed_and_forgotten(desk: CommandLine) -> None:
    assert "None is kept" in desk.type("instrument").text
    desk.type("instrument", "narrow", "hydrometer", "--scale", "60F")
    desk.type("instrument", "pocket", "refractometer", "--wort-factor", "1.03")
    listed = desk.type("instrument").text
    assert "narrow  hydrometer" in listed
    assert "1.03" in listed
    assert desk.type("instrument", "narrow", "--forget").status == 0
    assert "narrow" not in desk.type("instrument").text
    gone = desk.type("measure", "left", "narrow", "1.020", *READING)
    assert gone.status == 2
    assert "fermwatch instrument NAME" in gone.error


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("narrow",), "hydrometer or refractometer"),
        (("narrow", "thermometer"), "hydrometer or refractometer"),
        (("Narrow One", "hydrometer"), "cannot name an instrument"),
        (("hydrometer", "hydrometer"), "cannot name an instrument"),
        (("narrow", "hydrometer", "--scale", "68"), "no scale known"),
        (("narrow", "hydrometer", "--water-check", '1.001"\nkind = "x'), "--water-check"),
        (("narrow", "hydrometer", "--wort-factor", "1.04"), "belongs to a refractometer"),
        (("pocket", "refractometer", "--scale", "60F"), "belongs to a hydrometer"),
        (("pocket", "refractometer", "--wort-factor", "2"), "--wort-factor"),
        (("gone", "--forget"), "no instrument of yours"),
    ],
)
def test_what_cannot_be_meant_is_not_kept(desk: CommandLine, words: tuple[str, ...], said: str) -> None:
    told = desk.type("instrument", *words)
    assert told.status == 2
    assert said in told.error
    assert "None is kept" in desk.type("instrument").text


def test_a_file_that_was_spoilt_by_hand_is_told_with_its_place(desk: CommandLine, tmp_path: Path) -> None:
    file = instruments_file({"HOME": str(tmp_path / "ann")})
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text('[narrow]\nkind = "stick"\n')
    told = desk.type("measure", "left", "narrow", "1.020", *READING)
    assert told.status == 78
    assert str(file) in told.error


@pytest.mark.parametrize(
    "text",
    [
        '["narrow range"]\nkind = "hydrometer"\n',
        '[hydrometer]\nkind = "hydrometer"\n',
        '[""]\nkind = "hydrometer"\n',
        '[narrow]\nkind = "hydrometer"\nscale = "\\u001b[2J"\n',
        f"n = {'9' * 5000}\n",
        f"{'a.' * 20_000}a = 1\n",
    ],
)
def test_what_it_could_not_write_again_is_not_read_and_the_file_stays(
    desk: CommandLine, tmp_path: Path, text: str
) -> None:
    """A name with a blank was written back without its quotes, and the file was lost to its owner."""
    file = instruments_file({"HOME": str(tmp_path / "ann")})
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text)
    for words in (
        ("instrument",),
        ("instrument", "new", "hydrometer"),
        ("measure", "left", "narrow", "1.020", *READING),
    ):
        told = desk.type(*words)
        assert told.status == 78, told.text
        assert str(file) in told.error
        assert "\x1b" not in told.text + told.error
    assert file.read_text() == text


def test_many_kept_at_once_are_all_kept(tmp_path: Path) -> None:
    environment = {"HOME": str(tmp_path)}
    names = [f"n{number}" for number in range(12)]
    with ThreadPoolExecutor(12) as several:
        list(several.map(lambda name: keep(OwnInstrument(name, Instrument.HYDROMETER), environment), names))
    assert sorted(own_instruments(environment)) == sorted(names)
