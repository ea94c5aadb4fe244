"""The words before and after a command."""

import pytest

from fermwatch.cli import COMMANDS, main, parser_for


def test_the_site_may_be_called_like_a_command() -> None:
    parsed = parser_for(["--site", "demo", "status", "--json"]).parse_args(["--site", "demo", "status", "--json"])
    assert (parsed.site, parsed.command, parsed.json) == ("demo", "status", True)


@pytest.mark.parametrize("words", [["--store", "here", "status"], ["status", "--store", "here"]])
def test_where_is_said_before_or_after_the_command(words: list[str]) -> None:
    assert str(parser_for(words).parse_args(words).store) == "here"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_says_what_it_takes(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert f"fermwatch {command}" in capsys.readouterr().out


def test_what_goes_wrong_is_one_sentence_with_its_remedy(capsys: pytest.CaptureFixture[str]) -> None:
    status = main(["status"])
    said = capsys.readouterr().err
    assert status == 74
    assert said.startswith("fermwatch: There is no store at ")
    assert "fermwatch demo" in said
    assert "Traceback" not in said
