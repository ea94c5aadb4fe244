"""Who was told of an alarm, and when: by whichever way messages go to people."""

from collections.abc import Collection, Iterable
from datetime import datetime

from fermwatch.model.finding import Alarm
from fermwatch.model.telling import Told
from fermwatch.saying import words
from fermwatch.saying.voice import Voice

LONGEST_NAME = 30
NOBODY = "told nobody yet"
NO_WAY = "Nobody is told of anything: no [[notify]] is configured."


def of_alarm(alarm: Alarm, told: Iterable[Told]) -> tuple[Told, ...]:
    """What was told of it since it was raised last, the newest last."""
    name = alarm.rule, alarm.subject, alarm.occurrence
    found = (one for one in told if (one.rule, one.subject, one.occurrence) == name)
    return tuple(sorted(found, key=lambda one: (one.at, one.notifier)))


def words_of(alarm: Alarm, told: Iterable[Told], notifiers: Collection[str], now: datetime, voice: Voice) -> str:
    """`told: phone today 08:01, kitchen today 08:02 (3 times)`; `told nobody yet` of what calls somebody.

    Empty where nobody can be told, and of what nobody needs to be told: what is quiet, seen or over.
    """
    found = of_alarm(alarm, told)
    if found:
        return f"told: {', '.join(_one(word, now, voice) for word in found)}"
    return NOBODY if notifiers and alarm.needs_attention else ""


def _one(told: Told, now: datetime, voice: Voice) -> str:
    over = " that it is over" if told.is_over else ""
    often = f" ({told.times} times)" if told.times > 1 else ""
    return f"{voice.text(told.notifier, LONGEST_NAME)}{over} {words.moment(told.at, now, voice)}{often}"
