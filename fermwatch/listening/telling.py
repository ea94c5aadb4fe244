"""What was overheard, in words and as JSON data."""

from typing import Any

from fermwatch.listening.gathering import Gathered
from fermwatch.listening.recognising import Likely
from fermwatch.saying.words import QUANTITY_WORDS
from fermwatch.text import clean

NAME_LIMIT = 60


def guess(heard: Gathered) -> str:
    """One line: t1 19.4: beer in °C (its name tells of a temperature, and 19.4 fits °C alone)."""
    likely = heard.recognised.likely
    if not likely:
        return f"{named(heard)}: {heard.recognised.remark}"
    return f"{named(heard)}: {meant(likely[0])} ({likely[0].why})"


def named(heard: Gathered) -> str:
    """The channel and its newest number."""
    own = heard.channel.removeprefix("#") or heard.topic.rpartition("/")[2]
    if own.startswith("/") and own.count("/") == 1:
        own = own[1:]
    if own.isdecimal():  # a column: the word in front of it says more
        own = f"{heard.name.rstrip(':')} (column {own})".lstrip()
    unit = "" if heard.unit is None else f" {heard.unit}"
    return f"{clean(own, NAME_LIMIT)} {heard.values[-1]:.6g}{unit}"


def meant(likely: Likely) -> str:
    what = QUANTITY_WORDS[likely.quantity]
    what = "beer or air" if likely.where_unsure else what
    return f"{what} in {likely.unit}{'' if likely.sure else '?'}"


def as_object(heard: Gathered) -> dict[str, Any]:
    """One channel of `listen --json`; what is not known is None."""
    likely = heard.recognised.likely
    first = likely[0] if likely else None
    return {
        "place": clean(heard.place, 200),
        "driver": heard.driver,
        "topic": clean(heard.topic, 200) or None,
        "channel": clean(heard.channel, 200) or None,
        "value": heard.values[-1],
        "text": heard.text,
        "retained": heard.retained,
        "every_s": None if heard.every_s is None else round(heard.every_s, 3),
        "quantity": None if first is None else first.quantity.value,
        "unit": None if first is None else first.unit.value,
        "sure": None if first is None else first.sure,
        "why": heard.recognised.remark if first is None else first.why,
    }
