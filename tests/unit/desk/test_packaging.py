"""A packaging day before it is recorded: what it takes, and what stands against it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from fermwatch.contracts.store import Writer
from fermwatch.desk.asking import request
from fermwatch.desk.packaging import Wanted, against, odd, planned
from fermwatch.desk.residual import Held
from fermwatch.errors import InputError
from fermwatch.model.amounts import plain
from fermwatch.model.batch import PackageChoice
from fermwatch.model.packaging import packaging_of
from fermwatch.model.probe import Vessel
from fermwatch.store import open_store
from tests.unit.rules.situations import BATCH, DAY, START

GLASS = PackageChoice("returnable-glass", 2.4, 25.0)
WARM = Held(warmest_c=21.0)


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Writer]:
    with open_store(tmp_path.absolute().as_uri(), "cellar").writer(START) as writer:
        writer.declare("UTC", [Vessel("left", "Left", 25.0)], [], START)
        writer.apply(request(BATCH, site="cellar", user="anna", now=START), START)
        yield writer


def test_a_day_holds_all_that_is_recorded_and_reads_back(writer: Writer) -> None:
    day = planned(writer, BATCH, Wanted(GLASS, volume_l=18.0, bottles=36, held=WARM), START + 12 * DAY)
    asked = day.asked("E1")
    assert asked.batch == BATCH.id
    packaging = packaging_of((asked.event,))
    assert packaging is not None
    assert (packaging.kind, asked.event.data["volume_l"], asked.event.data["bottles"]) == ("returnable-glass", 18.0, 36)
    assert day.filling.dose.g_per_l > 3.0
    assert odd(day) == []


def test_beer_that_nothing_was_heard_of_is_not_declared_safe(writer: Writer) -> None:
    day = planned(writer, BATCH, Wanted(GLASS, held=WARM), START + 12 * DAY)
    assert not day.is_safe
    assert plain(next(against(day))).startswith("Invented ale is not declared safe to bottle: ")


def test_a_dose_that_is_too_much_stands_against_it_and_says_the_most(writer: Writer) -> None:
    day = planned(writer, BATCH, Wanted(GLASS, dose_g_per_l=14.0, held=WARM), START + 12 * DAY)
    assert any(plain(one).startswith("Too much for a returnable glass bottle") for one in against(day))


@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        (Wanted(held=WARM), "Into what package?"),
        (Wanted(GLASS), "How warm was the beer"),
        (Wanted(PackageChoice("keg", 2.4, 4.0), bottles=3, held=WARM), "A keg is no bottle"),
        (Wanted(GLASS, stands_by="nowhere", held=WARM), "no probe of a bottle store"),
    ],
)
def test_what_is_missing_or_cannot_be_is_said(writer: Writer, wanted: Wanted, why: str) -> None:
    with pytest.raises(InputError, match=why):
        planned(writer, BATCH, wanted, START + 12 * DAY)
