"""Generic kinds of yeast, by common practice: no brand, no strain. A packet's own figures override them.

Every figure is common practice from memory; none has a published source at hand.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fermwatch.errors import InputError


@dataclass(frozen=True, slots=True)
class YeastKind:
    """What a brewer expects of a kind of yeast.

    temperature_c: range to ferment in. attenuation: apparent, 0..1. longest_lag_h: pitch to first signs of life.
    alcohol_tolerance_abv: % by volume where it begins to give up.
    """

    slug: str
    name: str
    temperature_c: tuple[float, float]
    attenuation: tuple[float, float]
    longest_lag_h: float
    alcohol_tolerance_abv: float
    diastatic: bool = False
    lager: bool = False
    maltose_negative: bool = False
    note: str = ""


YEASTS: Mapping[str, YeastKind] = MappingProxyType(
    {
        kind.slug: kind
        for kind in (
            YeastKind("clean-ale", "clean ale", (17.0, 22.0), (0.73, 0.81), 24.0, 10.0),
            YeastKind(
                "lager",
                "lager",
                (8.0, 14.0),
                (0.70, 0.80),
                36.0,
                9.0,
                lager=True,
                note="Diacetyl rest at 16 to 18 °C before it is cooled for storage at 1 to 4 °C.",
            ),
            YeastKind("wheat", "wheat", (18.0, 24.0), (0.72, 0.79), 24.0, 9.0),
            YeastKind(
                "flocculent-ale",
                "flocculent ale",
                (17.0, 21.0),
                (0.65, 0.75),
                24.0,
                9.0,
                note="Drops early: rouse it gently and warm it if it stops high.",
            ),
            YeastKind(
                "abbey",
                "abbey ale",
                (18.0, 26.0),
                (0.74, 0.84),
                24.0,
                12.0,
                note="Let the temperature rise as it ferments.",
            ),
            YeastKind(
                "saison",
                "saison",
                (20.0, 30.0),
                (0.80, 0.95),
                24.0,
                12.0,
                diastatic=True,
                note="Often diastatic, and counted so here: pauses near 1.030, then goes on for weeks. Heavy bottles.",
            ),
            YeastKind(
                "hot-farmhouse",
                "hot farmhouse",
                (25.0, 38.0),
                (0.72, 0.82),
                24.0,
                12.0,
                note="May ferment more than 8 °P a day: leave a third of the fermenter empty.",
            ),
            YeastKind(
                "brettanomyces",
                "Brettanomyces, secondary",
                (18.0, 24.0),
                (0.75, 0.90),
                96.0,
                12.0,
                diastatic=True,
                note="Goes on at 1 to 2 points a week or less: steady over months, not days, before heavy bottles.",
            ),
            YeastKind(
                "maltose-negative",
                "low-alcohol, maltose-negative",
                (16.0, 22.0),
                (0.10, 0.20),
                36.0,
                1.5,
                maltose_negative=True,
                note="Leaves maltose that any other yeast would ferment in the bottle: kegs kept cold, never bottles.",
            ),
        )
    }
)


def yeast_named(slug: str) -> YeastKind:
    """Return the kind of a slug.

    Raises:
        InputError: naming the kinds there are.
    """
    found = YEASTS.get(slug.strip().lower())
    if found is None:
        raise InputError(f"{slug!r} is not a kind of yeast known here.", hint=f"Known: {', '.join(YEASTS)}.")
    return found
