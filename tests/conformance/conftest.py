"""A store of every backend, for what each of them must hold."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fermwatch.contracts.store import Reader, Writer
from tests.conformance.stores import BENCHES, StoreBench
from tests.support.samples import NOW, PROBES, VESSELS


@pytest.fixture(params=BENCHES)
def backend(request: pytest.FixtureRequest) -> Callable[[Path], StoreBench]:
    return BENCHES[request.param]


@pytest.fixture
def stores(backend: Callable[[Path], StoreBench], tmp_path: Path) -> StoreBench:
    return backend(tmp_path)


@pytest.fixture
def undisturbed(backend: Callable[[Path], StoreBench], tmp_path: Path) -> StoreBench:
    """Another place of the same backend."""
    return backend(tmp_path / "undisturbed")


@pytest.fixture
def writer(stores: StoreBench) -> Iterator[Writer]:
    """The site `home`, declared: left-beer is series 1, left-gravity 2, right-beer 3."""
    with stores.store().writer(NOW) as opened:
        opened.declare("Europe/Vienna", VESSELS, PROBES, NOW)
        yield opened


@pytest.fixture
def reader(writer: Writer, stores: StoreBench) -> Iterator[Reader]:
    with stores.store().reader() as opened:
        yield opened
