"""Beer that was packaged against the verdict, or that gushes: whether it may burst its package, and what to do.

Whether it may is decided here alone, by what was reckoned on the packaging day and by what was noted since of bottles
that were opened. While it may there are no dates, and what to do about it is said here alone, once (`remedy`).
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime

from fermwatch.model.amounts import points, temperature
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.conditioning import DAY, Conditioning, Peril
from fermwatch.model.event_data import OPENED, VENTED
from fermwatch.model.packaging import PET, Packaging
from fermwatch.science.packages import ACCEPTED_OF_GLASS, PACKAGES
from fermwatch.science.solubility import VOLUMES_HIGH, VOLUMES_PER_POINT
from fermwatch.text import in_quotes

RULE = "packaged-too-early"  # the alarm that tells of it
GUSHED = "gushed"  # of one that was opened: the others are as full

CHILLED = DAY  # in the cold before it is opened: what is warm foams whatever it holds (common practice)

NEAR_ZERO = temperature(0.0, None)
UNDER_A_TOWEL = "Goggles and thick gloves near them, and your face turned away."
IN_GLASS = (
    f"Keep them cold, near {NEAR_ZERO}, and covered, in a closed box or under a heavy towel, away from people, and "
    "drink them cold and soon: each opened under the towel, with goggles, thick gloves and your face turned away. "
)
IN_PET = (
    f"Keep them cold, near {NEAR_ZERO}, and drink them cold and soon, each opened slowly, with your face turned away. "
)
IN_KEG = (
    "Keep it cold, and drink it cold and soon. Pull its relief valve every day until it hisses no longer than it "
    "should, and never block it."
)

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
HOLDS_AS_SHOWN = (
    "Keep them in a closed box all the same, with goggles and thick gloves near; chill each for a day, and open it "
    f"with your face turned away. If one gushes, chill them all near {NEAR_ZERO} and note it:"
)
HOLDS_IN_KEG = "Pull its relief valve every few days, and never block it: if it hisses for long, keep it cold."


def is_so(packaging: Packaging) -> bool:
    """Whether it is known that it was not declared safe on that day."""
    return packaging.declared_safe is False


def peril_of(
    packaging: Packaging,
    events: Iterable[Event],
    proof: Peril,
    measured_days: Callable[[datetime, datetime], float],
) -> tuple[Peril | None, datetime | None]:
    """What stands of a beer that may burst its package, and when it was shown to hold after it might have.

    What is opened calm shows that it holds only where it stood warm for long enough before: in the cold yeast sleeps,
    and what may ferment ferments later. What gushed is vented first, and shows nothing before. proof: how warm and for
    how long. measured_days: what the warmth measured where it stands is worth of them.
    """
    peril, began, shown_at = proof if _is_overfull(packaging) else None, packaging.at, None
    for event in sorted(_opened(packaging, events), key=lambda one: one.at):
        if event.data.get("gushed") is True:
            peril, began, shown_at = replace(proof, opened_at=event.at, gushed=True), event.at, None
        elif event.data.get("what") == VENTED:
            began = event.at
            peril = None if peril is None else replace(proof, opened_at=event.at, vented=True)
        elif peril is not None and not peril.gushed:
            warm_days = max(told_days(event, began), measured_days(began, event.at))
            shown = warm_days >= proof.proof_days
            peril, shown_at = (
                (None, event.at) if shown else (replace(proof, opened_at=event.at, warm_days=warm_days), None)
            )
    return peril, shown_at


def told_days(opened: Event, began: datetime) -> float:
    """How long the one that was opened had stood warm, as told: no longer than there was time for."""
    told = opened.data.get("warm_days")
    days = float(told) if isinstance(told, int | float) and not isinstance(told, bool) else 0.0
    return max(min(days, (opened.at - began) / DAY), 0.0)


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


def remedy(known: Conditioning, name: str) -> str:
    """What to do about it: the one advice, wherever it is said."""
    packaging, peril = known.packaging, known.peril
    if peril is not None:
        return _gushed_remedy(packaging, name) if peril.gushed else _peril_remedy(packaging, peril, name)
    if known.shown_at is not None and not packaging.in_keg:
        return f"{HOLDS_AS_SHOWN} {_note(name)} {OPENED} --gushed."
    return HOLDS_IN_KEG if packaging.in_keg else HOLDS_IN_PET if packaging.kind == PET else HOLDS_IN_GLASS


def _peril_remedy(packaging: Packaging, peril: Peril, name: str) -> str:
    """To keep it cold, or to let one bottle show how it is with the others."""
    if packaging.in_keg:
        return f"{IN_KEG} Note it: {_note(name)} {VENTED}."
    warm = f"at about {temperature(peril.proof_c, None)} for {peril.proof_days:.0f} days"
    shows = f"{_note(name)} {OPENED} --calm --after-warm {peril.proof_days:.0f}d, or {OPENED} --gushed"
    if packaging.kind == PET:
        return (
            f"{IN_PET}To know more, stand ONE {warm}, alone in a closed box, and squeeze it every day, with goggles "
            "on: harder than a full one from the shop is too much. Chill it for a day, open it, slowly, and note it: "
            f"{shows}."
        )
    return (
        f"{IN_GLASS}To know more, stand ONE {warm}, alone in a closed box, for it may burst: a PET bottle filled along "
        f"if there is one, which tells by squeezing. Chill it for a day in that box, open it so, and note it: {shows}. "
        "If in doubt, leave the room."
    )


def _gushed_remedy(packaging: Packaging, name: str) -> str:
    vented = f"and note it: {_note(name)} {VENTED}."
    if packaging.in_keg:
        return f"Keep it cold, near {NEAR_ZERO}, and vent it by its relief valve, {vented}"
    return f"Keep them cold, near {NEAR_ZERO}, and vent every cap, under a towel, {vented} {UNDER_A_TOWEL}"


def _note(name: str) -> str:
    return f"fermwatch note {in_quotes(name)}"


def may_hold(packaging: Packaging) -> str:
    """What CO2 a beer that may burst its package may come to; empty where nobody knows.

    What was declared safe and gushes ferments what nobody reckoned with.
    """
    if not is_so(packaging) or packaging.volumes is None or packaging.left_points is None:
        return ""
    return may_come_to(packaging.volumes, packaging.left_points)


def may_come_to(volumes: float, left_points: float) -> str:
    """about 4.2 volumes: what was meant, and what may still ferment, as expected."""
    whole = volumes + left_points * VOLUMES_PER_POINT
    how = f"more than {VOLUMES_HIGH:.0f}" if whole > VOLUMES_HIGH else f"about {whole:.1f}"
    return f"may come to {how} volumes"


def chance_words(share: float) -> str:
    """A chance in whole percent; what is nearly sure or hardly ever is said so."""
    if share > 0.99:
        return "above 99 %"
    return f"{100.0 * share:.0f} %" if share >= 0.01 else "below 1 %"
