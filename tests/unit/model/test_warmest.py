"""Where a package is judged."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fermwatch.brewing.generic_yeasts import generic_yeast
from fermwatch.model.batch import KegWay, PackageChoice
from fermwatch.model.warmest import ACCIDENT, CONDITIONS, STANDS, UNDER_PRESSURE, Warmest, conditioning_c, warmest_of

BOTTLES = PackageChoice("returnable-glass", 2.4)
TEMPERATURES = st.floats(-2.0, 40.0)


@pytest.mark.parametrize(
    ("yeast", "celsius"),
    [("clean-ale", 20.0), ("wheat", 20.0), ("lager", 14.0), ("hot-farmhouse", 25.0), ("saison", 20.0)],
)
def test_it_conditions_at_20_or_as_near_to_it_as_the_yeast_likes(yeast: str, celsius: float) -> None:
    assert conditioning_c(BOTTLES, generic_yeast(yeast)) == celsius
    assert conditioning_c(replace(BOTTLES, conditioning_c=17.0), generic_yeast(yeast)) == 17.0


@pytest.mark.parametrize(
    ("choice", "judged"),
    [
        (BOTTLES, Warmest(30.0, STANDS)),
        (replace(BOTTLES, storage_c=4.0), Warmest(25.0, ACCIDENT)),
        (replace(BOTTLES, storage_c=4.0, accident_c=4.0), Warmest(20.0, CONDITIONS)),
        (replace(BOTTLES, storage_c=4.0, conditioning_c=27.0), Warmest(27.0, CONDITIONS)),
        (replace(BOTTLES, storage_c=4.0, accident_c=33.0), Warmest(33.0, ACCIDENT)),
        (PackageChoice("keg", 2.4, 4.0, way=KegWay.PRIMED), Warmest(25.0, ACCIDENT)),
        (PackageChoice("keg", 2.4, 4.0, way=KegWay.FORCED), Warmest(4.0, UNDER_PRESSURE)),
    ],
)
def test_the_warmest_counts_and_says_why(choice: PackageChoice, judged: Warmest) -> None:
    assert warmest_of(choice) == judged


@given(TEMPERATURES, TEMPERATURES, TEMPERATURES, TEMPERATURES)
def test_a_colder_store_never_lowers_it_below_where_the_gas_is_made(
    conditioning: float, storage: float, colder: float, accident: float
) -> None:
    choice = replace(BOTTLES, conditioning_c=conditioning, storage_c=storage, accident_c=accident)
    assert warmest_of(choice).temperature_c == max(conditioning, storage, accident)
    assert warmest_of(replace(choice, storage_c=colder)).temperature_c >= max(conditioning, accident)
