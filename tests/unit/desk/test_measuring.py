"""A reading by hand before it is stored: what speaks against it, and what is asked."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import OutcomeState
from fermwatch.contracts.store import Writer
from fermwatch.desk.asking import request
from fermwatch.desk.correcting import Sample, by_hydrometer
from fermwatch.desk.measuring import ByHand, by_hand
from fermwatch.model.amounts import plain
from fermwatch.model.probe import Vessel
from fermwatch.requests.shapes import SHAPES, Asked, read
from fermwatch.store import open_store
from tests.unit.rules.situations import BATCH, START


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    with open_store(tmp_path.absolute().as_uri(), "cellar").writer(START) as writer:
        writer.declare("UTC", [Vessel("left", "Left", 25.0)], [], START)
        yield writer


def reading(writer: Writer, gravity_sg: float, hours: float = 0.0) -> ByHand:
    corrected = by_hydrometer(gravity_sg, Sample(20.0))
    return by_hand(writer, BATCH, corrected, START + timedelta(hours=hours), degassed=True)


def keep(writer: Writer, asked: Asked) -> None:
    sent = request(asked, site="cellar", user="anna", now=START)
    outcome = writer.apply(sent, START)
    assert outcome.state is OutcomeState.DONE, outcome.reason


def test_an_ordinary_reading_is_doubted_by_nothing_and_is_stored_as_it_is(writer: Writer) -> None:
    keep(writer, BATCH)
    read_now = reading(writer, 1.020)
    assert read_now.doubts == ()
    keep(writer, read_now.asked("M1"))
    stored = writer.measurements(BATCH.id)
    assert [(one.id, one.gravity_sg, one.degassed) for one in stored] == [("M1", 1.02, True)]


@pytest.mark.parametrize(
    ("gravity_sg", "hours", "why"),
    [
        (1.060, 0.0, "above the original gravity"),
        (0.992, 0.0, "below the lowest end expected"),
        (1.020, -24.0 * 30, "before Invented ale was pitched"),
    ],
)
def test_what_cannot_well_be_is_doubted(writer: Writer, gravity_sg: float, hours: float, why: str) -> None:
    keep(writer, BATCH)
    assert any(why in plain(doubt) for doubt in reading(writer, gravity_sg, hours).doubts)


def test_beer_does_not_rise(writer: Writer) -> None:
    keep(writer, BATCH)
    keep(writer, reading(writer, 1.020).asked("M1"))
    assert any("never rises" in plain(doubt) for doubt in reading(writer, 1.026, 30.0).doubts)
    assert reading(writer, 1.017, 30.0).doubts == ()


def test_what_is_asked_is_read_back_as_the_same(writer: Writer) -> None:
    asked = reading(writer, 1.020).asked("M1")
    sent = request(asked, site="cellar", user="anna", now=START)
    assert read(SHAPES[sent.kind], sent.payload) == asked
