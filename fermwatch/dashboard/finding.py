"""What can be gone to and done by a few typed letters: fermenters, batches, and everything in the table of actions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fermwatch.dashboard import actions
from fermwatch.dashboard.events import GoneTo, Happening, Wish
from fermwatch.dashboard.known import Known
from fermwatch.saying.voice import Voice

LONGEST = 60  # characters of a name
NOT_IN_IT = {Wish.BACK, Wish.SEARCH, Wish.PALETTE}  # what only leads out of where one is, or here


@dataclass(frozen=True, slots=True)
class Entry:
    """What is shown, and what happens where it is chosen. keys: how it is reached without looking for it."""

    text: str
    event: Happening
    keys: str = ""


def places(known: Known, voice: Voice) -> tuple[Entry, ...]:
    """Fermenters with the beer in them, then the beers in their packages."""
    lanes = [
        Entry(
            f"{voice.text(lane.vessel.name or lane.vessel.slug, LONGEST)}"
            f"  {voice.text(lane.batch.name, LONGEST) if lane.batch else 'empty'}",
            GoneTo(actions.FERMENTER, lane.vessel.slug),
        )
        for lane in known.lanes
    ]
    packaged = known.snapshot.in_package if known.snapshot is not None else ()
    beers = [
        Entry(
            f"{voice.text(one.batch.name, LONGEST)}  in its {voice.text(one.packaging.noun, LONGEST)}",
            GoneTo(actions.BATCH, one.batch.id),
        )
        for one in packaged
    ]
    return (*lanes, *beers)


def deeds(page: str) -> tuple[Entry, ...]:
    """All that can be done where one is, by the words of the help page."""
    return tuple(
        Entry(one.help, one.event, ", ".join(one.key_words[: actions.KEYS_IN_HELP]))
        for one in actions.of(page)
        if one.help and one.event not in NOT_IN_IT
    )


def matching(entries: Sequence[Entry], typed: str) -> tuple[Entry, ...]:
    """Those that hold every typed word, in any order; first those that begin with what was typed."""
    said = typed.casefold().split()
    found = [one for one in entries if _holds(f"{one.text} {one.keys}".casefold(), said)]
    begins = " ".join(said)
    return tuple(sorted(found, key=lambda one: not one.text.casefold().startswith(begins)))


def _holds(text: str, words: Iterable[str]) -> bool:
    return all(word in text for word in words)
