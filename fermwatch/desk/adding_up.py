"""Whether what was said of a packaging day adds up: no more beer than there was, and bottles of a size that there is.

Sugar is weighed for the beer, so too much of it on paper is too much sugar in every bottle. Pure.
"""

from collections.abc import Iterable, Iterator

from fermwatch.errors import InputError
from fermwatch.model.amounts import typed_volume, volume
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.science.packages import PackageKind

MORE = 1.05  # of what was said at pitching: a syrup, and a scale on a bucket
BRIMFUL = 1.10  # of a fermenter's nominal volume
ROOMY = 1.25  # of the beer: a fermenter with the headspace that it should have
SUGGESTED = 3  # of the usual sizes, the commonest
FILLED_LOW, FILLED_HIGH = 0.93, 1.06  # of a bottle's size: a low fill, and beer that stayed in the bucket


def check_there_is_so_much(batch: Batch, events: Iterable[Event], volume_l: float) -> None:
    """InputError where it is more than the fermenter could hold, with what was blended in."""
    fermenter_l = batch.fermenter_volume_l
    if fermenter_l is not None and volume_l > fermenter_l * BRIMFUL + _blended_l(events):
        raise InputError(
            f"{volume(volume_l)} are more than its fermenter of {volume(fermenter_l)} holds, and the sugar "
            "of all that would be in what there is.",
            hint=f"Measure what is in the bucket. Is the fermenter larger? fermwatch batch edit {batch.vessel} "
            f"--fermenter-volume {typed_volume(volume_l * ROOMY)}",
        )


def doubts(
    batch: Batch, events: Iterable[Event], volume_l: float, bottles: int | None, kind: PackageKind
) -> Iterator[str]:
    """What does not add up, one sentence or two each."""
    there_l = batch.volume_l + _blended_l(events)
    if volume_l > there_l * MORE:
        yield (
            f"{volume(volume_l)} are more than the {volume(there_l)} of the batch: the sugar of all that would be in "
            "what there is. Measure what is in the bucket, and say that with --volume."
        )
    if bottles is not None and kind.sizes_l:
        yield from _odd_bottles(volume_l, bottles, kind)


def _odd_bottles(volume_l: float, bottles: int, kind: PackageKind) -> Iterator[str]:
    each_l = volume_l / bottles
    if any(FILLED_LOW * size_l <= each_l <= FILLED_HIGH * size_l for size_l in kind.sizes_l):
        return
    *some, last = (f"{volume_l / size_l:.0f} of {_size(size_l)}" for size_l in sorted(kind.sizes_l[:SUGGESTED]))
    several = " Bottles of several sizes?" if min(kind.sizes_l) < each_l < max(kind.sizes_l) else ""
    yield (
        f"{bottles} bottles for {volume(volume_l)} are {volume(each_l, 2)} each, which is no usual size of a "
        f"{kind.name}: {', '.join(some)} or {last} would hold it. "
        f"Is the beer less, or were there other bottles?{several}"
    )


def _size(size_l: float) -> str:
    return volume(size_l, 2 if round(size_l, 2) == size_l else 3)


def _blended_l(events: Iterable[Event]) -> float:
    """What was blended in since it was pitched."""
    blends = (event for event in events if event.kind is EventKind.BLEND and not event.voided)
    added = (event.data.get("volume_l", 0.0) for event in blends)
    return sum(float(litres) for litres in added if isinstance(litres, int | float))
