"""Beer that was packaged against the verdict: what may come of it, and what to do, from that day until it is drunk."""

from fermwatch.model.amounts import points, temperature
from fermwatch.model.packaging import PET, Packaging

RULE = "packaged-too-early"  # the alarm that tells of it

IN_GLASS = (
    f"Keep them cold, near {temperature(0.0, None)}, and covered, in a closed box or under a heavy towel, away from "
    "people. Goggles and thick gloves near them. After a day in the cold open one, carefully, under the towel and with "
    "your face turned away: if it gushes, vent every cap so. A PET bottle filled along tells by squeezing. "
    "If in doubt, leave the room."
)
IN_PET = (
    "Squeeze one every day: as hard as a full one from the shop is enough. Then keep them cold, near "
    f"{temperature(0.0, None)}, and let gas out of every cap, slowly, with your face turned away."
)
IN_KEG = "Pull its relief valve every day until it hisses no longer than it should, and never block it. Keep it cold."


def is_so(packaging: Packaging) -> bool:
    """Whether it is known that it was not declared safe on that day."""
    return packaging.declared_safe is False


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
    chance = _chance(packaging.chance_over_limit)
    return f"As judged then, {about} might still ferment; chance that {which} its limit: {chance}."


def remedy(packaging: Packaging) -> str:
    if packaging.in_keg:
        return IN_KEG
    return IN_PET if packaging.kind == PET else IN_GLASS


def _chance(share: float) -> str:
    if share > 0.99:
        return "above 99 %"
    return f"{100.0 * share:.0f} %" if share >= 0.01 else "below 1 %"
