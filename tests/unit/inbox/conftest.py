"""An inbox, and where it lies."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.inbox.receiving import FileInbox, open_inbox


@pytest.fixture
def inbox(tmp_path: Path) -> Iterator[FileInbox]:
    opened = open_inbox(tmp_path, "home")
    yield opened
    opened.close()


@pytest.fixture
def place(inbox: FileInbox, tmp_path: Path) -> Path:
    return tmp_path / "home.inbox"
