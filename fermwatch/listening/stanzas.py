"""What was chosen of what was overheard, as the tables of a configuration that reads it. Pure."""

import itertools
import json
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fermwatch.listening.gathering import Gathered, Settings
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.text import clean

UNKNOWN_INTERVAL_S = 900.0  # of what was heard once: floats on a battery speak as seldom
_NOT_IN_A_LEVEL = "+#{}"
_THE_REST = "#"
_PLACES = ("port", "host", "directory")  # the settings that say where a source listens
_WHOLE = "value"  # the channel of a topic that names no level
_SOURCE_NAMES = {"mqtt": "broker", "serial-line": "board", "one-wire": "bus"}
_SHORT = {
    Quantity.BEER_TEMPERATURE: "beer",
    Quantity.AIR_TEMPERATURE: "air",
    Quantity.STORE_TEMPERATURE: "bottles",
    Quantity.SET_POINT: "set-point",
}


@dataclass(frozen=True, slots=True)
class Chosen:
    """vessel: its id; None for where bottles stand. doubt: what is to be looked at, one sentence without its stop."""

    heard: Gathered
    quantity: Quantity
    unit: Unit
    vessel: str | None
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class NewVessel:
    """A fermenter that the configuration does not name yet. volume_l: to the brim."""

    id: str
    name: str
    volume_l: float
    doubt: str = ""


def slug(text: str) -> str:
    """A short name made of a person's words: small letters, digits and dashes; empty where nothing is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:32].strip("-")


def stanzas(
    chosen: Sequence[Chosen],
    vessels: Sequence[NewVessel],
    overheard: Iterable[Gathered],
    said: Mapping[str, Any],
    timezone: str = "",
) -> str:
    """What is to be added to a configuration that says `said` so far; nothing of it is repeated.

    overheard: everything, so that no source takes more topics than are meant. timezone: for a new configuration.
    """
    blocks = []
    if timezone and "site" not in said:
        blocks.append(_table("[site]", {"name": "home", "timezone": timezone}))
    names = _names(said, "source", "name")
    sources: dict[tuple[Settings, str], str] = {}
    topics = _topics(chosen, list(overheard))
    for one in chosen:
        place = (one.heard.settings, topics.get(one.heard.topic, ""))
        if place in sources:
            continue
        table: dict[str, object] = {"driver": one.heard.driver, **dict(place[0])}
        if place[1]:
            table["topic"] = place[1]
        known = _same_source(said, table)
        sources[place] = known or _free(_SOURCE_NAMES.get(one.heard.driver, "source"), names)
        if not known:
            blocks.append(_table("[[source]]", {"name": sources[place], **table}))
    blocks += [
        _table("[[vessel]]", {"id": one.id, "name": one.name, "volume_l": one.volume_l}, {"volume_l": one.doubt})
        for one in vessels
    ]
    ids = _names(said, "probe", "id")
    for one in chosen:
        topic = topics.get(one.heard.topic, "")
        blocks.append(_probe(one, sources[one.heard.settings, topic], topic, ids))
    return "\n".join(blocks)


def _probe(one: Chosen, source: str, topic: str, ids: set[str]) -> str:
    short = _SHORT.get(one.quantity) or slug(one.heard.name)[-16:].strip("-") or one.quantity.value
    short = "gravity" if one.quantity is Quantity.GRAVITY else short
    every_s = one.heard.every_s
    table: dict[str, object] = {"id": _free(slug(f"{one.vessel or 'store'}-{short}"), ids)}
    if one.vessel is not None:
        table["vessel"] = one.vessel
    table |= {
        "quantity": one.quantity.value,
        "source": source,
        "channel": channel_of(topic, one.heard),
        "unit": one.unit.value,
        "every_s": UNKNOWN_INTERVAL_S if every_s is None else float(max(1, math.ceil(every_s))),
    }
    once = "heard once: put here how often it speaks" if every_s is None else ""
    return _table("[[probe]]", table, {"quantity": one.doubt, "every_s": once})


def channel_of(topic: str, heard: Gathered) -> str:
    """The name that the driver gives to the channel under a source's topic; without a topic it is the field's own."""
    if not topic:
        return heard.channel
    wanted, levels = topic.split("/"), heard.topic.split("/")
    named = [level for one, level in zip(wanted, levels, strict=False) if one.startswith("{")]
    if wanted[-1] == _THE_REST:
        named += levels[len(wanted) - 1 :]
    return f"{'/'.join(named) or _WHOLE}{heard.channel}"


def bound(said: Mapping[str, Any], heard: Gathered) -> str:
    """The probe that a configuration reads this channel by already; empty where there is none."""
    for source in _tables(said, "source"):
        topic = str(source.get("topic", ""))
        same = source.get("driver") == heard.driver and all(
            key not in dict(heard.settings) or source.get(key) == dict(heard.settings)[key] for key in _PLACES
        )
        if not same or (heard.topic and not _means(topic, heard.topic)):
            continue
        channel = channel_of(topic if heard.topic else "", heard)
        for probe in _tables(said, "probe"):
            if (probe.get("source"), probe.get("channel")) == (source.get("name"), channel):
                return str(probe.get("id"))
    return ""


def _topics(chosen: Sequence[Chosen], overheard: Sequence[Gathered]) -> dict[str, str]:
    """By topic, what a source would name: one for all that are alike but for a level, where no other is meant too."""
    found: dict[str, str] = {}
    heard = [one.heard for one in chosen if one.heard.topic]
    for settings in dict.fromkeys(one.settings for one in heard):
        mine = list(dict.fromkeys(one.topic for one in heard if one.settings == settings))
        strangers = {one.topic for one in overheard if one.topic and one.settings != settings}
        for _, group in itertools.groupby(sorted(mine, key=_depth), key=_depth):
            alike = list(group)
            common = _template(alike)
            if len(alike) > 1 and not any(_means(common, other) for other in strangers):
                found |= dict.fromkeys(alike, common)
            else:
                found |= {topic: _template([topic]) for topic in alike}
    return found


def _depth(topic: str) -> int:
    return topic.count("/")


def _template(topics: Sequence[str]) -> str:
    """The levels that differ, or cannot be written, as names in braces."""
    levels = zip(*(topic.split("/") for topic in topics), strict=True)
    return "/".join(
        same[0] if len(set(same)) == 1 and not set(_NOT_IN_A_LEVEL) & set(same[0]) else f"{{level{number}}}"
        for number, same in enumerate(levels, start=1)
    )


def _means(template: str, topic: str) -> bool:
    wanted, levels = template.split("/"), topic.split("/")
    if wanted[-1] == _THE_REST:
        wanted.pop()
        levels = levels[: len(wanted)]
    if len(wanted) != len(levels):
        return False
    return all(one == level or one.startswith("{") for one, level in zip(wanted, levels, strict=True))


def _same_source(said: Mapping[str, Any], table: Mapping[str, object]) -> str:
    """The name of a source that is configured so already; empty where there is none."""
    for source in _tables(said, "source"):
        if all(source.get(key) == value for key, value in table.items()) and isinstance(source.get("name"), str):
            return str(source["name"])
    return ""


def _tables(said: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    tables = said.get(name, [])
    return [one for one in tables if isinstance(one, dict)] if isinstance(tables, list) else []


def _names(said: Mapping[str, Any], table: str, key: str) -> set[str]:
    return {str(one[key]) for one in _tables(said, table) if key in one}


def _free(wanted: str, taken: set[str]) -> str:
    """The name, or one with a number behind it, which is then taken."""
    numbered = (f"{wanted[:28].strip('-')}-{number}" for number in itertools.count(2))
    name = next(one for one in itertools.chain([wanted], numbered) if one not in taken)
    taken.add(name)
    return name


def _table(header: str, said: Mapping[str, object], remarks: Mapping[str, str] | None = None) -> str:
    remarks = remarks or {}
    lines = [header]
    for key, value in said.items():
        remark = f"   # {clean(remarks[key], 160)}" if remarks.get(key) else ""
        lines.append(f"{key} = {_value(value)}{remark}")
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    """As TOML 1.0 writes it: its strings take JSON's escapes, and DEL must be escaped too."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and value == round(value):
        return str(round(value))
    if isinstance(value, int | float):
        return str(value)
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
