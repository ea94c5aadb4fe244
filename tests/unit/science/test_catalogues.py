"""Yeast kinds and packages: complete, generic, and refusing what is dangerous."""

import pytest

from fermwatch.errors import InputError
from fermwatch.science.packages import CAUTION, PACKAGES, TOO_HARD, package_named, pressure_limit_bar_gauge, weakest
from fermwatch.science.yeasts import YEASTS, yeast_named


def test_clean_ale_lager_and_wheat_come_first() -> None:
    assert list(YEASTS)[:3] == ["clean-ale", "lager", "wheat"]


@pytest.mark.parametrize("slug", YEASTS)
def test_a_kind_of_yeast_has_ranges_that_make_sense(slug: str) -> None:
    kind = yeast_named(slug)
    assert 0.0 < kind.temperature_c[0] < kind.temperature_c[1] < 40.0
    assert 0.0 < kind.attenuation[0] < kind.attenuation[1] < 1.0
    assert 12.0 <= kind.longest_lag_h <= 96.0
    assert 0.0 < kind.alcohol_tolerance_abv < 20.0


def test_flags_stand_where_rules_look_for_them() -> None:
    assert [slug for slug, kind in YEASTS.items() if kind.lager] == ["lager"]
    assert [slug for slug, kind in YEASTS.items() if kind.maltose_negative] == ["maltose-negative"]
    assert {slug for slug, kind in YEASTS.items() if kind.diastatic} == {"saison", "brettanomyces"}


def test_an_unknown_kind_names_the_known_ones() -> None:
    with pytest.raises(InputError, match="clean-ale"):
        yeast_named("bread")
    with pytest.raises(InputError, match="returnable-glass"):
        package_named("bucket")


def test_limits_rise_from_one_way_to_sparkling_wine_glass() -> None:
    kinds = ("one-way-glass", "returnable-glass", "heavy-glass", "sparkling-wine-glass")
    limits = [pressure_limit_bar_gauge(PACKAGES[slug]) for slug in kinds]
    assert limits == [4.8, 5.6, 7.5, 10.0]
    assert all(PACKAGES[slug].glass for slug in kinds)
    assert not PACKAGES["soda-pet"].glass
    assert PACKAGES["keg"].relief_valve


def test_the_makers_figure_overrides_the_kind() -> None:
    assert pressure_limit_bar_gauge(PACKAGES["one-way-glass"], 3.0) == 3.0


@pytest.mark.parametrize("slug", ["still-wine-glass", "growler", "jar", "jug", "square-glass", "chipped-glass"])
def test_what_must_not_hold_pressure_is_refused_even_with_a_makers_figure(slug: str) -> None:
    kind = package_named(slug)
    with pytest.raises(InputError) as refusal:
        pressure_limit_bar_gauge(kind, 6.0)
    assert kind.refused in str(refusal.value)


def test_the_cautions_name_what_protects() -> None:
    assert "burst" in CAUTION
    page = " ".join(TOO_HARD)
    for word in ("eye protection", "gloves", "towel", "0 °C", "vent", "leave the room"):
        assert word in page


def test_what_new_glass_is_proofed_for_is_no_limit_to_bottle_to() -> None:
    """1.2 MPa is a proof figure of new beer bottles (GB 4544)."""
    for slug in ("one-way-glass", "returnable-glass", "heavy-glass"):
        with pytest.raises(InputError, match="proofed for"):
            pressure_limit_bar_gauge(PACKAGES[slug], 12.0)
    assert pressure_limit_bar_gauge(PACKAGES["keg"], 9.0) == 9.0
    assert pressure_limit_bar_gauge(PACKAGES["one-way-glass"], 6.0) == 6.0


@pytest.mark.parametrize(
    ("slugs", "kind", "limit_bar"),
    [
        (["returnable-glass", "one-way-glass"], "one-way-glass", None),
        (["heavy-glass", "soda-pet"], "heavy-glass", 5.0),  # judged as glass, at the weaker limit
        (["returnable-glass"], "returnable-glass", None),
    ],
)
def test_of_several_kinds_the_weakest_counts(slugs: list[str], kind: str, limit_bar: float | None) -> None:
    assert weakest([PACKAGES[slug] for slug in slugs]) == (PACKAGES[kind], limit_bar)


@pytest.mark.parametrize("other", ["jar", "keg"])
def test_no_jar_and_no_keg_goes_beside_bottles(other: str) -> None:
    with pytest.raises(InputError):
        weakest([PACKAGES["heavy-glass"], PACKAGES[other]])
