"""Kinds of package, the pressure that each may hold for good, and those that no beer is ever conditioned in.

The limits are common practice, below what the kinds are proofed for when new (a proof figure, such as 1.2 MPa for new
beer bottles, is no limit to bottle to). The figure of the package's own maker overrides them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fermwatch.errors import InputError

ACCEPTED_CHANCE = 0.05  # that it exceeds its limit: 95 % stay below
ACCEPTED_OF_GLASS = 0.01  # our choice: of 40 bottles two over their limit are too many


@dataclass(frozen=True, slots=True)
class PackageKind:
    """A kind of package.

    limit_bar_gauge: total gauge pressure, trapped air and all, that it may hold for good; None where it is refused.
    glass: bursts into splinters, so it is never declared safe without a hydrometer reading.
    heavy: may take beer that still creeps.
    relief_valve: vents by itself.
    sizes_l: the usual ones, in litres, the commonest first (common practice); empty where any size is usual.
    refused: why no conditioning beer goes in; empty where it may.
    """

    slug: str
    name: str
    limit_bar_gauge: float | None
    glass: bool = True
    heavy: bool = False
    relief_valve: bool = False
    note: str = ""
    refused: str = ""
    sizes_l: tuple[float, ...] = ()

    @property
    def accepted_chance(self) -> float:
        """That one of them exceeds its limit: what is more is too full."""
        return ACCEPTED_OF_GLASS if self.glass else ACCEPTED_CHANCE


# 275 mL to 1 pint, and 12 and 22 US fluid ounces.
_BEER_BOTTLES_L = (0.5, 0.33, 0.355, 0.75, 0.65, 0.568, 0.55, 0.275, 0.25)


def _refused(slug: str, name: str, reason: str) -> PackageKind:
    return PackageKind(slug, name, None, refused=reason)


PACKAGES: Mapping[str, PackageKind] = MappingProxyType(
    {
        kind.slug: kind
        for kind in (
            PackageKind(
                "one-way-glass",
                "one-way glass bottle",
                4.8,
                note="About 2.9 volumes at 30 °C. Use it once.",
                sizes_l=_BEER_BOTTLES_L,
            ),
            PackageKind(
                "returnable-glass",
                "returnable glass bottle",
                5.6,
                note="About 3.4 volumes at 30 °C.",
                sizes_l=_BEER_BOTTLES_L,
            ),
            PackageKind(
                "heavy-glass",
                "heavy glass bottle",
                7.5,
                heavy=True,
                note="About 4.5 volumes at 30 °C.",
                sizes_l=(*_BEER_BOTTLES_L, 0.375),
            ),
            PackageKind(
                "sparkling-wine-glass",
                "sparkling-wine bottle",
                10.0,
                heavy=True,
                note="About 5.9 volumes at 30 °C, with a crown cap or a wired cork.",
                sizes_l=(0.75, 0.375, 1.5),
            ),
            PackageKind(
                "soda-pet",
                "PET bottle for soda",
                5.0,
                glass=False,
                note="Squeeze it on days 3, 7 and 14.",
                sizes_l=(0.5, 1.0, 1.5, 2.0, 1.25, 0.75, 0.591, 0.33),
            ),
            PackageKind(
                "keg",
                "keg with a relief valve",
                3.0,
                glass=False,
                relief_valve=True,
                note="Kegs are rated from 3 bar up: enter what is stamped on yours.",
            ),
            _refused("still-wine-glass", "still-wine bottle", "Still-wine glass is not made to hold pressure."),
            _refused("growler", "growler", "A growler is for serving: it is not made to hold pressure."),
            _refused("jar", "jar", "A jar's lid and shoulders are not made to hold pressure."),
            _refused("jug", "jug", "A jug's thin wide wall bursts at a fraction of a bottle's pressure."),
            _refused("square-glass", "square glass bottle", "Flat sides bend under pressure and break at the edges."),
            _refused("chipped-glass", "chipped or scratched glass", "Damaged glass may have lost half its strength."),
        )
    }
)

PROOF_PER_WORKING = 1.5  # glass passes its test at that much of its working pressure (a test laboratory's practice)

CAUTION = (
    "A bottle that is too full of CO2 can burst. Keep bottles in a closed box, below the temperature on the label, "
    "away from children and faces."
)

TOO_HARD = (
    "Touch them as little as you can, and carry none of them while it is warm.",
    "Wear eye protection and thick gloves, and lay a heavy towel over them before you do anything.",
    "Chill them near 0 °C for 24 hours, where they stand or in a closed box: 4 volumes are 4.1 bar at 20 °C, 1.5 at 0.",
    "Then vent every cap, slowly, under the towel, and put on a new one only when the beer has settled.",
    "If you are in doubt, leave the room and let them be.",
    "A dated PET bottle or a gauge cap filled from the same beer tells you the pressure without touching the glass.",
)


def package_named(slug: str) -> PackageKind:
    """Return the kind of a slug, refused ones too.

    Raises:
        InputError: naming the kinds there are.
    """
    found = PACKAGES.get(slug.strip().lower())
    if found is None:
        accepted = ", ".join(kind.slug for kind in PACKAGES.values() if not kind.refused)
        raise InputError(f"{slug!r} is not a kind of package known here.", hint=f"Known: {accepted}.")
    return found


def pressure_limit_bar_gauge(kind: PackageKind, makers_limit_bar_gauge: float | None = None) -> float:
    """Return the limit to bottle to: the maker's figure where there is one, the kind's otherwise.

    Raises:
        InputError: for a refused kind, whatever its maker says; for glass, where the figure can only be what new
            bottles are proofed for.
    """
    if kind.refused or kind.limit_bar_gauge is None:
        raise InputError(f"No conditioning beer goes into a {kind.name}.", hint=kind.refused)
    if makers_limit_bar_gauge is None:
        return kind.limit_bar_gauge
    most = PROOF_PER_WORKING * kind.limit_bar_gauge
    if kind.glass and makers_limit_bar_gauge > most:
        raise InputError(
            f"{makers_limit_bar_gauge:g} bar is what a new {kind.name} is proofed for, and no limit to bottle to.",
            hint=f"Give the maker's working pressure, at most {most:.1f} bar for this kind, or leave it out.",
        )
    return makers_limit_bar_gauge


def weakest(kinds: Sequence[PackageKind]) -> tuple[PackageKind, float | None]:
    """Return the kind that a batch in several kinds is judged as, and its limit where another kind's is lower.

    The weakest counts; where one is of glass, all count as glass. Raises InputError for a refused one among them, and
    for a keg beside bottles: its CO2 comes another way.
    """
    limits = {kind.slug: pressure_limit_bar_gauge(kind) for kind in kinds}
    if len({kind.relief_valve for kind in kinds}) > 1:
        raise InputError("A keg and bottles are filled in two ways.", hint="Record each of them as a batch of its own.")
    chosen = min(kinds, key=lambda kind: (not kind.glass, limits[kind.slug]))
    lowest = min(limits.values())
    return chosen, lowest if lowest < limits[chosen.slug] else None
