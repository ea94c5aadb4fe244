"""What a package may be turned to, a step at a time: into what, how lively, how warm it gets, how much beer."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from fermwatch.judgement.filling import is_keg
from fermwatch.model.batch import STANDS_AT_C, Batch, KegWay, PackageChoice
from fermwatch.science.packages import PACKAGES
from fermwatch.science.solubility import VOLUMES_HIGH

USUAL = PackageChoice("returnable-glass", 2.4)  # where nothing is said of a batch's package (common practice)
FORCED_KEG_C = 4.0  # where a forced keg stands, if nothing else is said (common practice)
WARM_BEER_C = 20.0  # where turning begins of a beer that nobody measured
VOLUMES_LOW = 1.0
COLDEST_C, WARMEST_C = -1.0, 45.0
BEER_WARMEST_C = 35.0
LEAST_L = 0.5
BRIMFUL = 1.1  # of the batch, with what was added since
LARGE_L = 10.0  # from here on by a litre


class Dial(Enum):
    """What can be turned."""

    KIND = "into"
    VOLUMES = "CO2"
    WARMEST = "warmest"
    BEER = "beer"
    BEER_WARMTH = "beer was"


@dataclass(frozen=True, slots=True)
class Tried:
    """What somebody tries. volume_l: None for all of the batch. beer_warmest_c: of the beer since it was active, where
    no probe tells."""

    choice: PackageChoice
    volume_l: float | None = None
    beer_warmest_c: float | None = None


def kinds() -> Sequence[tuple[str, KegWay | None]]:
    """Every kind that beer may go into, the lightest glass first; a keg in both its ways."""
    return [
        (slug, way)
        for slug, kind in PACKAGES.items()
        if not kind.refused
        for way in (tuple(KegWay) if kind.relief_valve else (None,))
    ]


def of_kind(choice: PackageChoice, slug: str, way: KegWay | None) -> PackageChoice:
    """How lively it is stays; a maker's figure belongs to the kind, and where it stands to who makes the CO2."""
    other = replace(choice, kind=slug, way=way, limit_bar=choice.limit_bar if slug == choice.kind else None)
    if other.forced is choice.forced:
        return other
    return replace(other, storage_c=FORCED_KEG_C if other.forced else STANDS_AT_C)


def turned(tried: Tried, dial: Dial, by: int, batch: Batch) -> Tried:
    """So many steps further, within what is sensible."""
    choice = tried.choice
    match dial:
        case Dial.KIND:
            there = list(kinds())
            way = (choice.way or KegWay.FORCED) if is_keg(choice) else None
            place = there.index((choice.kind, way)) if (choice.kind, way) in there else 0
            return replace(tried, choice=of_kind(choice, *there[(place + by) % len(there)]))
        case Dial.VOLUMES:
            return replace(tried, choice=replace(choice, volumes=_step(choice.volumes, by, 0.1, VOLUMES_LOW, _MOST)))
        case Dial.WARMEST:
            storage_c = _step(choice.storage_c, by, 1.0, COLDEST_C, WARMEST_C)
            return replace(tried, choice=replace(choice, storage_c=storage_c))
        case Dial.BEER:
            volume_l = batch.volume_l if tried.volume_l is None else tried.volume_l
            most = max(batch.volume_l * BRIMFUL, LEAST_L)
            return replace(tried, volume_l=_step(volume_l, by, 1.0 if volume_l > LARGE_L else 0.5, LEAST_L, most))
        case Dial.BEER_WARMTH:
            known = tried.beer_warmest_c
            warm_c = WARM_BEER_C if known is None else _step(known, by, 1.0, COLDEST_C, BEER_WARMEST_C)
            return replace(tried, beer_warmest_c=warm_c)


_MOST = VOLUMES_HIGH - 0.5  # above, only what has no name is filled


def _step(value: float, by: int, size: float, low: float, high: float) -> float:
    """The next round number that way; at the end of the range no further."""
    return round(min(max(round(value / size + by) * size, low), high), 3)
