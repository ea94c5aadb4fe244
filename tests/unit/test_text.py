"""Text from outside, made harmless."""

import subprocess

import pytest

from fermwatch.text import clean, harmless, in_quotes


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("left beer", "left beer"),
        ("Gärkeller №2 °C", "Gärkeller №2 °C"),
        ("発酵", "発酵"),
        ("[/][b]x[/b]", "[/][b]x[/b]"),
        ("\x1b[2J", "\\x1b[2J"),
        ("\x1b]0;owned\x07", "\\x1b]0;owned\\x07"),
        ("a\tb\nc\r", "a\\x09b\\x0ac\\x0d"),
        ("\x9b31m", "\\x9b31m"),
        ("\u202egnp.exe", "\\u202egnp.exe"),
        ("a\u200bb\u2060\ufeff", "a\\u200bb\\u2060\\ufeff"),
        ("\u2028\u2029", "\\u2028\\u2029"),
        ("\U000e0041tag", "\\U000e0041tag"),
        ("\ud800", "\\ud800"),
    ],
)
def test_every_sign_is_shown_as_itself_or_as_its_escape(said: str, shown: str) -> None:
    assert clean(said) == shown


def test_bytes_that_are_no_text_are_shown_as_they_are() -> None:
    assert clean(b"t=\xff\xfe19.4") == "t=\\xff\\xfe19.4"
    assert clean("°C".encode()) == "°C"


@pytest.mark.parametrize(("length", "ends"), [(79, "x"), (80, "x"), (81, "…"), (100_000, "…")])
def test_what_is_too_long_ends_in_an_ellipsis_within_the_limit(length: int, ends: str) -> None:
    line = clean("x" * length, 80)
    assert len(line) == min(length, 80)
    assert line.endswith(ends)


def test_no_escape_is_cut_in_two() -> None:
    assert clean("\x1b" * 100, 10) == "\\x1b\\x1b…"


def test_the_last_gate_keeps_lines_and_lets_nothing_else_through() -> None:
    assert harmless("one\n  two\t°C\n") == "one\n  two\t°C\n"
    assert harmless("named \x1b[2J\u202e\r\n") == "named \\x1b[2J\\u202e\\x0d\n"


@pytest.mark.parametrize("name", ["Harvest Ale", 'B $(touch x) `id` " & <b>', "it's", "a\\b", "!!", ""])
def test_a_name_in_a_suggested_command_is_one_word_and_runs_nothing(name: str) -> None:
    done = subprocess.run(
        ["bash", "-c", f"printf %s {in_quotes(name)}"], capture_output=True, text=True, check=True, timeout=20
    )
    assert done.stdout == name
