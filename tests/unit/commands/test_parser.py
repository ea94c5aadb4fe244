"""What a mistyped command line is answered: one sentence and its remedy, never a page of usage."""

import pytest

from fermwatch.cli import main


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("statsu",), "command 'statsu' is not known: did you mean status?"),
        (("batch", "opne"), "'opne' is not known: did you mean open?"),
        (("calc", "gravty"), "did you mean gravity?"),
        (("zzzz",), "there is demo, watch"),
        (("bottle", "--foo"), "--foo"),
        (("add", "left"), "required: WHAT."),
    ],
)
def test_a_mistyped_word_is_answered_with_the_nearest(
    words: tuple[str, ...], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    said = capsys.readouterr().err
    assert ended.value.code == 2
    assert told in said
    assert "usage:" not in said
    assert len(said.splitlines()) == 2


def test_a_gravity_in_plato_is_shown_how_to_say_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", "gravity", "12.1"]) == 2
    assert "Did you mean 12.1P?" in capsys.readouterr().err


def test_a_value_below_zero_is_a_value(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", "keg", "2.4", "--temperature", "-1C"]) == 0
    assert "-1.0 °C" in capsys.readouterr().out
    assert main(["calc", "keg", "2.4", "--temperature", "-5C"]) == 2
    assert "--temperature" in capsys.readouterr().err
