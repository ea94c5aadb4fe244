"""Whose line is wrong: file, line, key, and what would be right, in one sentence."""

from pathlib import Path

import pytest

from fermwatch.config.load import load
from fermwatch.errors import ConfigError
from tests.unit.config.files import PROBE, SOURCE, VESSEL, WHOLE, loaded, refused, write


def test_a_whole_configuration_is_taken(tmp_path: Path) -> None:
    found = loaded(tmp_path, WHOLE)
    assert [source.channels for source in found.sources] == [("t1",)]
    assert found.config.probe[0].probe().silent_after_s == 300.0
    assert found.store == tmp_path / ".local" / "state" / "fermwatch"


@pytest.mark.parametrize(
    ("text", "line", "key", "words"),
    [
        (VESSEL + "volume = 3\n", 5, "vessel[1].volume", ("unknown key", "Did you mean volume_l?", "Allowed here: id")),
        ("[sight]\n", 1, "sight", ("unknown key", "Did you mean site?")),
        ("[zzz]\n", 1, "zzz", ("unknown key", "Allowed here: site, store")),
        (VESSEL.replace("name", "nam"), 3, "vessel[1].nam", ("unknown key", "Did you mean name?")),
        (VESSEL.replace("volume_l = 30", ""), 1, "vessel[1].volume_l", ("is missing", "litres")),
        (VESSEL.replace("30", '"big"'), 4, "vessel[1].volume_l", ("valid number", "'big'", "litres")),
        (VESSEL.replace("30", "-1"), 4, "vessel[1].volume_l", ("greater than 0", "-1")),
        (
            VESSEL.replace('"left"', '"Left Hand"'),
            2,
            "vessel[1].id",
            ("use small letters, digits and dashes, at most 32", "'Left Hand'"),
        ),
        (WHOLE + "every_s = nan\n", 16, "probe[1].every_s", ("finite", "How often")),
        (WHOLE + 'unit = "psi"\n', 16, "probe[1].unit", ("psi is no unit of beer-temp", "°C, °F, K")),
        (WHOLE + 'unit = "C"\n', 16, "probe[1].unit", ("C is no unit of beer-temperature; did you mean °C?",)),
        (WHOLE + "offset = 1\npoints = [[0, 0.2], [20, 20.1]]\n", 17, "probe[1].points", ("either points or offset",)),
        (WHOLE + "points = [[20, 0.2], [20, 20.1]]\n", 16, "probe[1].points", ("two readings must differ",)),
        (
            WHOLE.replace('vessel = "left"', 'vessel = "right"'),
            12,
            "probe[1].vessel",
            ("names the vessel 'right'", "(left)"),
        ),
        (
            WHOLE.replace('source = "board"', 'source = "bord"'),
            14,
            "probe[1].source",
            ("names the source 'bord'", "(board)"),
        ),
        (
            WHOLE.replace('vessel = "left"\n', ""),
            10,
            "probe[1].vessel",
            ("is missing: the id of the fermenter it sits on",),
        ),
        (
            WHOLE.replace("beer-temperature", "store-temperature"),
            12,
            "probe[1].vessel",
            ("a bottle store is no fermenter: leave it out",),
        ),
        (VESSEL + VESSEL, 6, "vessel[2].id", ("vessel id 'left' is given twice",)),
        ("[[vesel]]\nid = 1\n", 1, "vesel", ("unknown key", "Did you mean vessel?")),
        (WHOLE.replace("beer-temperature", "beer-temp"), 13, "probe[1].quantity", ("did you mean beer-temperature?",)),
        (SOURCE.replace("serial-line", "serial"), 3, "source[1].driver", ("no driver is called 'serial'", "mqtt")),
        (SOURCE + "bawd = 9600\n", 6, "source[1].bawd", ("unknown key", "Did you mean baud?")),
        (SOURCE + 'baud = "fast"\n', 6, "source[1].baud", ("valid integer", "'fast'", "speed")),
        (SOURCE.replace('format = "pairs"\n', ""), 1, "source[1].format", ("is missing", "How a line is written")),
        (SOURCE + VESSEL + SOURCE.replace("board", "b") + "x = 1\n", 15, "source[2].x", ("unknown key",)),
        ('[site]\ntimezone = "Mars"\n', 2, "site.timezone", ("no IANA time zone",)),
        ("[store]\ncommit_every_s = 1000\n", 2, "store.commit_every_s", ("less than or equal to 300", "SD card")),
        ("[rules]\noutside_warning = 2\n", 2, "rules.outside_warning", ("no such setting; did you mean outside_w",)),
        ("[rules]\noutside_warning_h = inf\n", 2, "rules.outside_warning_h", ("finite",)),
        ("[rules]\noutside_warning_h = -1\n", 2, "rules.outside_warning_h", ("cannot be meant",)),
        (
            WHOLE.replace('channel = "t1"', 'channel = "a b"'),
            5,
            "",
            ('"a b" cannot be a channel', 'in front of the "="'),
        ),
    ],
)
def test_a_mistake_names_its_place_and_what_would_be_right(
    tmp_path: Path, text: str, line: int | None, key: str, words: tuple[str, ...]
) -> None:
    error = refused(tmp_path, text)
    assert all(word in str(error) for word in words), str(error)
    assert error.key == key
    if line is not None:
        assert error.line == line, str(error)
        assert f"fermwatch.toml:{line}: " in str(error)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"[site\n", ("is not TOML", "line 1")),
        (b"name = home\n", ("is not TOML", "Strings want quotes")),
        (b"a = " + b"[" * 5000, ("is not TOML",)),
        (b"a = " + b"9" * 5000, ("is not TOML",)),
        (b"a." * 50_000 + b"a = 1", ("is not TOML",)),
        (b'[site]\nname = "k\xe4ller"\n', ("is not UTF-8", "Save it as UTF-8")),
        (b"#" * 300_000, ("300000 bytes", "at most 262144")),
    ],
)
def test_what_is_no_configuration_at_all_is_told_as_plainly(
    tmp_path: Path, text: bytes, words: tuple[str, ...]
) -> None:
    error = refused(tmp_path, text)
    assert all(word in str(error) for word in words), str(error)


def test_the_line_of_what_is_no_text_is_named(tmp_path: Path) -> None:
    assert refused(tmp_path, b'[site]\nname = "k\xe4ller"\n').line == 2


def test_a_file_that_is_a_directory_is_told(tmp_path: Path) -> None:
    (tmp_path / "fermwatch.toml").mkdir()
    with pytest.raises(ConfigError, match=r"cannot be read: Is a directory\. Try: ls -l"):
        load(tmp_path / "fermwatch.toml", {}, {"HOME": str(tmp_path)})


@pytest.mark.parametrize("where", ["", SOURCE])
@pytest.mark.parametrize("key", ["password", "Token", "api_key"])
def test_a_secret_in_a_file_that_others_can_read_is_refused_with_the_exact_command(
    tmp_path: Path, where: str, key: str
) -> None:
    file = write(tmp_path, f'{where}{key} = "hunter2"\n')
    error = refused(tmp_path, file.read_bytes())
    assert f"Run: chmod 600 {file} " in str(error)
    assert "hunter2" not in str(error)
    assert error.line == (6 if where else 1)


def test_a_secret_in_a_private_file_belongs_elsewhere_too(tmp_path: Path) -> None:
    file = write(tmp_path, f'{SOURCE}password = "hunter2"\n', 0o600)
    with pytest.raises(ConfigError, match="password_file") as caught:
        load(file, {}, {"HOME": str(tmp_path)})
    assert "hunter2" not in str(caught.value)
    assert "chmod" not in str(caught.value)


def test_what_the_file_says_is_shown_harmless(tmp_path: Path) -> None:
    error = refused(tmp_path, VESSEL.replace("30", '"\\u001b[31m\\u202e"'))
    assert "\x1b" not in str(error)
    assert "\u202e" not in str(error)


def test_a_probe_without_a_good_line_is_not_half_taken(tmp_path: Path) -> None:
    assert "is missing" in str(refused(tmp_path, VESSEL + SOURCE + PROBE.replace('channel = "t1"\n', "")))
