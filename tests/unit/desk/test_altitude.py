"""Where thin air holds less CO2 in the beer, and lets a gauge show more: of one place, wherever it is reckoned.

Air pressure at 1500 m: 845.6 hPa, ISO 2533 (1975).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from fermwatch.brewing.air import air_bar
from fermwatch.contracts.store import Writer
from fermwatch.desk.asking import request
from fermwatch.desk.packaging import Wanted, planned
from fermwatch.desk.packing_words import of_package
from fermwatch.desk.residual import Held
from fermwatch.model.amounts import plain
from fermwatch.model.batch import GravityMeasurement, KegWay, PackageChoice
from fermwatch.model.probe import Vessel
from fermwatch.requests.shapes import Asked, Measuring
from fermwatch.store import open_store
from tests.unit.rules.situations import BATCH, DAY, START

HIGH_M, AT_SEA_BAR, HIGH_BAR = 1500.0, 1.01325, 0.8456
GLASS = PackageChoice("returnable-glass", 2.4, 25.0)
KEG = PackageChoice("keg", 2.4, 4.0, way=KegWay.FORCED)
WARM = Held(warmest_c=20.0)
AT = START + 12 * DAY


@contextmanager
def cellar(directory: Path, altitude_m: float) -> Iterator[Writer]:
    with open_store(directory.absolute().as_uri(), "cellar").writer(START) as writer:
        writer.declare("UTC", [Vessel("left", "Left", 25.0, altitude_m=altitude_m)], [], START)
        read = [GravityMeasurement(f"M{day}", START + day * DAY, 1.0115, sd_points=0.5) for day in (8, 11)]
        asks: list[Asked] = [BATCH, *(Measuring(BATCH.id, one) for one in read)]
        for asked in asks:
            writer.apply(request(asked, site="cellar", user="anna", now=AT), AT)
        yield writer


@pytest.fixture
def sea(tmp_path: Path) -> Iterator[Writer]:
    with cellar(tmp_path / "sea", 0.0) as writer:
        yield writer


@pytest.fixture
def mountain(tmp_path: Path) -> Iterator[Writer]:
    with cellar(tmp_path / "mountain", HIGH_M) as writer:
        yield writer


def test_the_air_of_a_place_is_that_of_its_fermenters_and_of_the_sea_where_there_are_none(mountain: Writer) -> None:
    assert air_bar(mountain.vessels()) == pytest.approx(HIGH_BAR, abs=5e-5)
    assert air_bar(()) == pytest.approx(AT_SEA_BAR)


def test_beer_holds_less_there_and_is_given_more_sugar(sea: Writer, mountain: Writer) -> None:
    low, high = (planned(one, BATCH, Wanted(GLASS, held=WARM), AT).filling for one in (sea, mountain))
    assert low.residual.low == pytest.approx(0.80, abs=0.01)
    assert high.residual.low == pytest.approx(0.67, abs=0.01)
    assert high.dose.g_per_l > low.dose.g_per_l


def test_the_altitude_said_goes_before_that_of_the_place(sea: Writer, mountain: Writer) -> None:
    said = replace(WARM, atmosphere_bar=AT_SEA_BAR)
    low, high = (planned(one, BATCH, Wanted(GLASS, held=said), AT).filling for one in (sea, mountain))
    assert high == low


def test_a_dose_that_was_weighed_gives_fewer_volumes_there(sea: Writer, mountain: Writer) -> None:
    low, high = (planned(one, BATCH, Wanted(GLASS, dose_g_per_l=6.0, held=WARM), AT) for one in (sea, mountain))
    assert low.filling.choice.volumes - high.filling.choice.volumes == pytest.approx(0.14, abs=0.02)


def test_a_gauge_there_shows_more_by_what_the_air_lacks(sea: Writer, mountain: Writer) -> None:
    lacks_bar = AT_SEA_BAR - HIGH_BAR
    low, high = (planned(one, BATCH, Wanted(KEG), AT) for one in (sea, mountain))
    assert low.filling.set_bar is not None
    assert high.filling.set_bar is not None
    assert high.filling.set_bar - low.filling.set_bar == pytest.approx(lacks_bar, abs=0.002)
    assert high.filling.risk.high_bar - low.filling.risk.high_bar == pytest.approx(lacks_bar, abs=0.002)
    assert [plain(one) for one in of_package(high)] != [plain(one) for one in of_package(low)], "should it warm"


def test_the_judge_reckons_with_the_same_air(sea: Writer, mountain: Writer) -> None:
    said = []
    for writer in (sea, mountain):
        day = planned(writer, replace(BATCH, package=KEG), Wanted(KEG), AT)
        assert day.judged.verdict is not None
        told = " ".join(plain(one.statement) for one in day.judged.verdict.evidence)
        said.append(f"volumes: {day.filling.set_bar:.2f} bar at")
        assert said[-1] in told
    assert said[0] != said[1]
