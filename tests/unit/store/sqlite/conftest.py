from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.contracts.store import Reader, Writer
from tests.support.samples import NOW, PROBES, VESSELS
from tests.support.stores import open_reader, open_writer


@pytest.fixture
def directory(tmp_path: Path) -> Path:
    return tmp_path / "store"


@pytest.fixture
def writer(directory: Path) -> Iterator[Writer]:
    """A store of the site `home`, declared: left-beer is series 1, left-gravity 2, right-beer 3."""
    with open_writer(directory, "home", NOW) as opened:
        opened.declare("Europe/Vienna", VESSELS, PROBES, NOW)
        yield opened


@pytest.fixture
def reader(writer: Writer, directory: Path) -> Iterator[Reader]:
    with open_reader(directory, "home") as opened:
        yield opened
