"""A real store and a real inbox in a directory of their own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import FileInbox, open_inbox
from tests.support.samples import NOW, PROBES, VESSELS
from tests.support.stores import open_writer


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    with open_writer(tmp_path, "home", NOW, ballast_bytes=4096) as opened:
        opened.declare("UTC", VESSELS, PROBES, NOW)
        yield opened


@pytest.fixture
def inbox(tmp_path: Path) -> Iterator[FileInbox]:
    opened = open_inbox(tmp_path, "home")
    yield opened
    opened.close()
