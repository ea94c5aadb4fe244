"""Every dashboard test runs with a watch on the event loop: our own code must never block it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from blockbuster import BlockBuster, blockbuster_ctx

from tests.dashboard.expected_text import Expected


@pytest.fixture(autouse=True)
def no_blocking_calls() -> Iterator[BlockBuster]:
    with blockbuster_ctx("fermwatch") as watch:
        for name, function in watch.functions.items():
            if name.startswith("os.") and name not in {"os.read", "os.write"}:
                function.deactivate()  # Textual looks for its style sheets as it starts
            function.can_block_in("textual/css/stylesheet.py", {"read", "read_all"})
        yield watch


@pytest.fixture(autouse=True)
def still_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "FERMWATCH_ASCII", "TEXTUAL", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")


@pytest.fixture
def expected() -> Expected:
    return Expected(Path(__file__).parent / "expected")
