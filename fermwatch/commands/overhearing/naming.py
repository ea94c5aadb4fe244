"""What was heard becomes what is meant: by a person, one key a question, or by the best guess where nobody is asked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fermwatch.commands import amounts, sheet
from fermwatch.commands.context import Context
from fermwatch.commands.overhearing.hearing import short
from fermwatch.commands.overhearing.keys import pressed, typed
from fermwatch.errors import InputError
from fermwatch.listening.gathering import Gathered
from fermwatch.listening.recognising import Likely
from fermwatch.listening.stanzas import Chosen, NewVessel, slug
from fermwatch.listening.telling import meant, named
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.text import clean
from fermwatch.units import units_of

USUAL_VOLUME_L = 30.0
USUAL_VOLUME, USUAL_GALLONS = "30L", "8gal"
WHAT = {
    "b": "beer",
    "a": "air",
    "t": "set point",
    "s": "bottle store",
    "g": "gravity",
    "p": "pressure",
    "o": "output",
    "c": "contact",
    "n": "none of these",
    "e": "enough",
}
_QUANTITY = {
    "b": Quantity.BEER_TEMPERATURE,
    "a": Quantity.AIR_TEMPERATURE,
    "t": Quantity.SET_POINT,
    "s": Quantity.STORE_TEMPERATURE,
    "g": Quantity.GRAVITY,
    "p": Quantity.PRESSURE,
    "o": Quantity.OUTPUT,
    "c": Quantity.CONTACT,
}
_AIR, _NONE, _ENOUGH = "a", "n", "e"
_ANOTHER = "+"
_LOOK_WHERE = "its name does not tell where it is: say air-temperature if it hangs in air"


@dataclass(frozen=True, slots=True)
class Named:
    chosen: tuple[Chosen, ...]
    vessels: tuple[NewVessel, ...]


def best_guess(overheard: Sequence[Gathered], said: Mapping[str, Any], vessel: str) -> Named:
    """Everything that is likely something, all in one fermenter; whatever is in doubt says so beside it."""
    chosen = [_guessed(one, vessel) for one in overheard if one.recognised.likely]
    new = not any(one.get("id") == vessel for one in vessels_of(said))
    made = NewVessel(vessel, vessel.replace("-", " ").capitalize(), USUAL_VOLUME_L, "to the brim: put yours here")
    return Named(tuple(chosen), (made,) if chosen and new else ())


def _guessed(heard: Gathered, vessel: str) -> Chosen:
    likely = heard.recognised.likely[0]
    doubts = [] if likely.sure else [f"not certain: {likely.why}"]
    doubts += [_LOOK_WHERE] if likely.where_unsure else []
    return Chosen(heard, likely.quantity, likely.unit, vessel, "; ".join(doubts))


def vessels_of(said: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The fermenters that a configuration names so far."""
    tables = said.get("vessel", [])
    return [one for one in tables if isinstance(one, dict)] if isinstance(tables, list) else []


def _told_by_topic(topic: str) -> str:
    """The level before the last, which often says whose it is; empty where that is no name."""
    level = topic.split("/")[-2] if "/" in topic else ""
    return clean(level, 30).replace("_", " ").capitalize() if slug(level) else ""


def _has_beer(chosen: Sequence[Chosen]) -> bool:
    return any(one.quantity is Quantity.BEER_TEMPERATURE for one in chosen)


class Naming:
    """One conversation. known: fermenters by id, with their names."""

    def __init__(self, context: Context, said: Mapping[str, Any]) -> None:
        self._context = context
        self._known = {str(one.get("id")): str(one.get("name") or one.get("id")) for one in vessels_of(said)}
        self._new: list[NewVessel] = []
        self._last = next(iter(self._known), "")

    def ask(self, overheard: Sequence[Gathered]) -> Named:
        """Ask of each channel what it is, the likely ones first. EOFError where the terminal is gone."""
        likely = [one for one in overheard if one.recognised.likely]
        others = [one for one in overheard if not one.recognised.likely]
        chosen: list[Chosen] = []
        enough = not self._each(likely, chosen)
        if others and not enough:
            listed = ", ".join(named(one) for one in others[:8]) + (", ..." if len(others) > 8 else "")
            question = f"Also heard, and probably nothing to watch: {listed}. Name any of them?"
            if pressed(self._context, question, {"y": "yes", "n": "no"}, "n") == "y":
                self._each(others, chosen)
        return Named(tuple(chosen), tuple(self._new))

    def _each(self, overheard: Sequence[Gathered], chosen: list[Chosen]) -> bool:
        """Whether it was gone through to its end."""
        for number, one in enumerate(overheard, start=1):
            where = f"{short(one.topic or one.place, 40)}"
            self._context.say(f"\n{number} of {len(overheard)}: {named(one)}, on {where}")
            first = one.recognised.likely[0] if one.recognised.likely else None
            say = f"{meant(first)}: {first.why}." if first else f"{one.recognised.remark}."
            sheet.say(self._context, sheet.paragraph(clean(say, 400), sheet.width(self._context) - 2))
            usual = next((key for key, quantity in _QUANTITY.items() if first and quantity is first.quantity), _NONE)
            if first and first.where_unsure and len(self._known) == 1 and _has_beer(chosen):
                usual = _AIR  # of one fermenter: its beer is named already
            key = pressed(self._context, "What is it?", WHAT, usual)
            if key == _ENOUGH:
                return False
            if key != _NONE:
                quantity = _QUANTITY[key]
                unit = self._unit(one.recognised.likely, quantity)
                vessel = None if quantity is Quantity.STORE_TEMPERATURE else self._vessel(_told_by_topic(one.topic))
                chosen.append(Chosen(one, quantity, unit, vessel))
        return True

    def _unit(self, likely: Sequence[Likely], quantity: Quantity) -> Unit:
        """Asked for only where it is not certain."""
        units = list(units_of(quantity))
        fitting = [one for one in likely if one.unit in units]
        if fitting and fitting[0].sure:
            return fitting[0].unit
        if fitting:
            units.sort(key=lambda unit: unit is not fitting[0].unit)
        keys = {str(number): unit.value for number, unit in enumerate(units, start=1)}
        return Unit(keys[pressed(self._context, "In which unit?", keys, "1")])

    def _vessel(self, told: str) -> str:
        """told: what a topic calls it, perhaps."""
        if self._known:
            ids = list(self._known)[:9]
            keys = {str(number): clean(self._known[one], 30) for number, one in enumerate(ids, start=1)}
            likely = next((one for one in (slug(told), self._last) if one in ids), ids[0])
            usual = str(ids.index(likely) + 1)
            key = pressed(self._context, "In which fermenter?", {**keys, _ANOTHER: "another"}, usual)
            if key != _ANOTHER:
                self._last = ids[int(key) - 1]
                return self._last
        return self._made(told)

    def _made(self, told: str) -> str:
        name = clean(typed("What do you call this fermenter?", told or f"Fermenter {len(self._known) + 1}"), 40)
        wanted = slug(name) or "fermenter"
        free = next(one for one in (wanted, *(f"{wanted[:28]}-{n}" for n in range(2, 99))) if one not in self._known)
        while True:
            usual = USUAL_VOLUME if self._context.units.gallon is None else USUAL_GALLONS
            said = typed("What does it hold, to the brim?", usual)
            try:
                volume_l = amounts.volume_l(said, what="volume", high_l=1000.0, gallon=self._context.units.gallon)
            except InputError as error:
                self._context.complain(error)
                continue
            break
        self._new.append(NewVessel(free, name, round(volume_l, 2)))
        self._known[free] = name
        self._last = free
        return free
