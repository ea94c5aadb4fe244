"""Asking once before something is stored."""

import builtins
import sys
from types import SimpleNamespace

import pytest

from fermwatch.commands import confirming
from fermwatch.commands.confirming import confirmed
from fermwatch.commands.context import Context
from fermwatch.errors import InputError

CONTEXT = Context(None, None, None, {})


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = SimpleNamespace(isatty=lambda: True)
    monkeypatch.setattr(confirming, "sys", SimpleNamespace(stdin=stream, stdout=stream))


@pytest.mark.usefixtures("terminal")
@pytest.mark.parametrize(
    ("answer", "goes_on"), [("y", True), ("Yes ", True), ("n", False), ("", False), ("yess", False)]
)
def test_only_a_yes_goes_on(monkeypatch: pytest.MonkeyPatch, answer: str, goes_on: bool) -> None:
    monkeypatch.setattr(builtins, "input", lambda _question: answer)
    assert confirmed(CONTEXT, "Store it?", yes=False) is goes_on


@pytest.mark.usefixtures("terminal")
def test_the_end_of_input_is_a_no(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def ended(_question: str) -> str:
        raise EOFError

    monkeypatch.setattr(builtins, "input", ended)
    assert not confirmed(CONTEXT, "Store it?", yes=False)
    assert "Nothing was stored" in capsys.readouterr().out


def test_without_a_terminal_the_remedy_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    with pytest.raises(InputError) as raised:
        confirmed(CONTEXT, "Store it?", yes=False)
    assert "--yes" in raised.value.hint


def test_a_yes_said_before_asks_nothing() -> None:
    assert confirmed(CONTEXT, "Store it?", yes=True)
