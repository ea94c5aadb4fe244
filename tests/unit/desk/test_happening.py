"""What was done to a beer or seen of it, before it is stored."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.store import Writer
from fermwatch.desk.asking import request
from fermwatch.desk.declaring import Declared, data_of
from fermwatch.desk.happening import Noted, noted
from fermwatch.desk.opening import check_fits, edit_of, free_vessel
from fermwatch.errors import InputError, RequestRefused
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.probe import Vessel
from fermwatch.store import open_store
from tests.unit.rules.situations import BATCH, DAY, HOUR, START


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    with open_store(tmp_path.absolute().as_uri(), "cellar").writer(START) as writer:
        writer.declare("UTC", [Vessel("left", "Left", 25.0), Vessel("right", "Right", 25.0)], [], START)
        writer.apply(request(BATCH, site="cellar", user="anna", now=START), START)
        yield writer


def note(writer: Writer, kind: EventKind, **data: float | str | bool) -> Noted:
    return noted(writer, BATCH, Event("E1", START, kind, data), START)


def test_a_remark_is_stored_unasked_and_what_changes_the_beer_is_not(writer: Writer) -> None:
    assert not note(writer, EventKind.NOTE).asks
    assert note(writer, EventKind.DRY_HOP, grams=60.0).asks
    assert note(writer, EventKind.NOTE).asked().batch == BATCH.id


def test_what_lies_before_the_pitch_is_doubted_whatever_it_is(writer: Writer) -> None:
    early = Event("E1", BATCH.pitched_at - HOUR, EventKind.NOTE)
    doubted = noted(writer, BATCH, early, START)
    assert doubted.asks
    assert doubted.doubts == ("That is before Invented ale was pitched.",)


def test_a_crash_of_beer_that_is_not_finished_is_doubted_and_its_air_is_told_of(writer: Writer) -> None:
    crash = note(writer, EventKind.CRASH, target_c=2.0)
    assert any("Cold only stops the yeast" in plain(one) for one in crash.doubts)
    assert any("Cooling beer draws air in" in plain(one) for one in crash.cautions)


def test_what_cannot_be_done_to_packaged_beer_is_refused_before_anything_is_told(writer: Writer) -> None:
    packaged = replace(BATCH, packaged_at=START - HOUR)
    with pytest.raises(RequestRefused, match="is in its package since"):
        noted(writer, packaged, Event("E1", START, EventKind.CRASH, {"target_c": 2.0}), START)
    assert noted(writer, packaged, Event("E1", START, EventKind.NOTE), START).doubts == ()


def test_a_forced_ferment_that_stood_cold_does_not_count(writer: Writer) -> None:
    forced = note(writer, EventKind.FORCED_FERMENT, gravity_sg=1.010, temperature_c=15.0)
    assert plain(forced.doubts[0]).startswith("It does not count.")


@pytest.mark.parametrize(
    ("declared", "why"),
    [
        (Declared(EventKind.REST), "At what temperature"),
        (Declared(EventKind.RAMP, 17.0), "When should it be there"),
        (Declared(EventKind.REST, 17.0, by=START + DAY), "belongs to a ramp"),
        (Declared(EventKind.REST, 17.0, until=START - DAY), "has passed"),
        (Declared(EventKind.REST, 17.0, until=START + timedelta(days=90)), "too far ahead"),
        (Declared(EventKind.RAMP, 17.0, by=START + 2 * DAY, until=START + DAY), "over before it is there"),
        (Declared(EventKind.BACK_TO_RANGE), "No rest, ramp or crash of Invented ale is in force"),
    ],
)
def test_what_cannot_be_meant_is_refused(writer: Writer, declared: Declared, why: str) -> None:
    with pytest.raises(InputError, match=why):
        data_of(writer, BATCH, declared, START, START)


def test_a_crash_needs_no_target(writer: Writer) -> None:
    assert data_of(writer, BATCH, Declared(EventKind.CRASH), START, START) == {"target_c": 2.0}


def test_a_fermenter_is_free_or_says_what_it_holds(writer: Writer) -> None:
    assert free_vessel(writer, "right").slug == "right"
    with pytest.raises(InputError, match="left still holds Invented ale"):
        free_vessel(writer, "left")
    with pytest.raises(InputError, match="There is no fermenter 'cellar'"):
        free_vessel(writer, "cellar")


def test_an_edit_asks_for_what_differs_alone(writer: Writer) -> None:
    assert edit_of(BATCH, BATCH).changes == {}
    assert edit_of(BATCH, replace(BATCH, volume_l=18.0)).changes == {"volume_l": 18.0}
    with pytest.raises(InputError, match="do not fit"):
        check_fits(replace(BATCH, fermenter_volume_l=5.0))
