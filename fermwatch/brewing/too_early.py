"""Beer that was packaged against the verdict, or that gushes: whether it may burst its package, and what to do.

Whether it may is decided here alone, by what was reckoned on the packaging day and by what was noted since of bottles
that were opened cold. While it may there are no dates, and nothing tells anybody to warm it.
"""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.model.amounts import points, temperature
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.conditioning import Peril
from fermwatch.model.event_data import OPENED, VENTED
from fermwatch.model.packaging import PET, Packaging
from fermwatch.science.packages import ACCEPTED_OF_GLASS, PACKAGES

RULE = "packaged-too-early"  # the alarm that tells of it
OPEN_ONE = "open-one-cold"  # of one that was opened: another is due, or it gushed

CALM_FOR = timedelta(days=14)  # from the first to the last that was opened calm: then it holds (common practice)

NEAR_ZERO = temperature(0.0, None)
UNDER_A_TOWEL = "Goggles and thick gloves near them, and your face turned away."
IN_GLASS = (
    f"Keep them cold, near {NEAR_ZERO}, and covered, in a closed box or under a heavy towel, away from "
    "people. Goggles and thick gloves near them. After a day in the cold open one, carefully, under the towel and with "
    "your face turned away: if it gushes, vent every cap so. A PET bottle filled along tells by squeezing. "
    "If in doubt, leave the room."
)
IN_PET = (
    "Squeeze one every day: as hard as a full one from the shop is enough. Then keep them cold, near "
    f"{NEAR_ZERO}, and let gas out of every cap, slowly, with your face turned away."
)
IN_KEG = "Pull its relief valve every day until it hisses no longer than it should, and never block it. Keep it cold."

# Packaged against the verdict, and as reckoned within what such a package holds.
HOLDS_IN_GLASS = (
    "Keep them in a closed box or under a heavy towel, away from people. Goggles and thick gloves near them. On day 3 "
    "chill one for a day and open it, carefully, with your face turned away: if it gushes, chill them all near "
    f"{NEAR_ZERO} and vent every cap so. A PET bottle filled along tells by squeezing."
)
HOLDS_IN_PET = (
    "Squeeze one every day: harder than a full one from the shop is too much. Then chill them all near "
    f"{NEAR_ZERO}, and let gas out of every cap, slowly, with your face turned away."
)
HOLDS_IN_KEG = "Pull its relief valve every few days, and never block it: if it hisses for long, keep it cold."


def is_so(packaging: Packaging) -> bool:
    """Whether it is known that it was not declared safe on that day."""
    return packaging.declared_safe is False


def peril_of(packaging: Packaging, events: Iterable[Event]) -> Peril | None:
    """What stands of a beer that may burst its package; None where it never might, or was shown to hold.

    What is calm in the cold has perhaps not fermented yet: so it is asked again after a week, and for two of them.
    """
    peril = Peril() if _is_overfull(packaging) else None
    calm_since = None
    for event in sorted(_opened(packaging, events), key=lambda one: one.at):
        if event.data.get("gushed") is True:
            peril, calm_since = Peril(event.at, gushed=True), None
            continue
        if calm_since is None or event.data.get("what") == VENTED:
            calm_since = event.at
        if peril is not None:
            shown = event.at - calm_since >= CALM_FOR
            peril = None if shown else Peril(event.at, vented=event.data.get("what") == VENTED)
    return peril


def _is_overfull(packaging: Packaging) -> bool:
    """Whether more of it than is accepted of such a package exceeds its limit, as reckoned on that day.

    Where nothing was reckoned of beer that was not declared safe, nothing says that it holds.
    """
    if not is_so(packaging):
        return False
    kind, chance = PACKAGES.get(packaging.kind), packaging.chance_over_limit
    return chance is None or chance > (ACCEPTED_OF_GLASS if kind is None else kind.accepted_chance)


def _opened(packaging: Packaging, events: Iterable[Event]) -> list[Event]:
    said = (one for one in events if one.kind is EventKind.OBSERVATION and not one.voided and one.at >= packaging.at)
    return [one for one in said if one.data.get("what") in {OPENED, VENTED}]


def statement(packaging: Packaging, name: str) -> str:
    if packaging.in_keg:
        return f"{name} was kegged before it was declared safe: the keg may take more pressure than it should"
    what = "bottles that are too full burst" + ("" if packaging.kind == PET else ", and glass flies")
    return f"{name} was bottled before it was declared safe: {what}"


def as_judged(packaging: Packaging) -> str:
    """What was reckoned on that day; empty where nothing is kept of it."""
    if packaging.left_points is None or packaging.chance_over_limit is None:
        return ""
    left = packaging.left_points
    about = f"about {points(left, 0)}" if left >= 1.0 else f"less than {points(1.0, 0)}"
    which = "it exceeds" if packaging.in_keg else "a bottle exceeds"
    chance = chance_words(packaging.chance_over_limit)
    return f"As judged then, {about} might still ferment; chance that {which} its limit: {chance}."


def remedy(packaging: Packaging, peril: Peril | None) -> str:
    """What to do from that day on."""
    if peril is not None:
        return IN_KEG if packaging.in_keg else IN_PET if packaging.kind == PET else IN_GLASS
    return HOLDS_IN_KEG if packaging.in_keg else HOLDS_IN_PET if packaging.kind == PET else HOLDS_IN_GLASS


def note_words(packaging: Packaging, name: str) -> str:
    """What to type when one was opened cold, or the gas was let out."""
    typed = f'fermwatch note "{name}"'
    return f"{typed} {VENTED}" if packaging.in_keg else f"{typed} {OPENED} --calm, or --gushed"


def next_words(packaging: Packaging, peril: Peril, name: str) -> str:
    """What to do next about it, in a sentence or two."""
    typed = note_words(packaging, name)
    if peril.opened_at is None and packaging.in_keg:
        return f"No dates, and nothing warmer, before its valve was pulled in the cold and that was noted: {typed}"
    if peril.opened_at is None:
        return f"No dates, and nothing warmer, before one was opened cold and that was noted: {typed}"
    if peril.gushed:
        vented = f'fermwatch note "{name}" {VENTED}'
        what = "Keep it cold and vent it" if packaging.in_keg else "Keep them cold and vent every cap, under a towel"
        near = "" if packaging.in_keg else f" {UNDER_A_TOWEL}"
        return f"{what}, and note it: {vented}.{near}"
    again = "Pull its valve again" if packaging.in_keg else "Open one, cold,"
    return f"What may still ferment makes more gas where it is warm. {again} in a week, and note it: {typed}"


def chance_words(share: float) -> str:
    """A chance in whole percent; what is nearly sure or hardly ever is said so."""
    if share > 0.99:
        return "above 99 %"
    return f"{100.0 * share:.0f} %" if share >= 0.01 else "below 1 %"
