"""What somebody keeps quiet on purpose although it stands: that is never the same as well."""

from collections.abc import Iterable
from datetime import datetime

from fermwatch.model.finding import Alarm
from fermwatch.saying import words
from fermwatch.saying.voice import Voice

MARK = "z"
STILL_JUDGED = "It is judged and recorded all the same, and calls nobody."


def kept_quiet(alarms: Iterable[Alarm]) -> list[Alarm]:
    """The alarms that stand and that a person has shelved or taken out of service."""
    return [alarm for alarm in alarms if alarm.stands and alarm.kept_quiet]


def quiet_words(alarm: Alarm, now: datetime, voice: Voice) -> str:
    """Why one alarm is quiet: out of service, shelved until 14:00 by anna, planned crash. Empty where it is not."""
    if alarm.out_of_service:
        since, by = alarm.out_of_service_since, voice.text(alarm.out_of_service_by, 20)
        told = f" since {words.moment(since, now, voice)}" if since is not None else ""
        return f"out of service{told}{f' by {by}' if by else ''}"
    if alarm.shelved_until is None:
        return voice.text(alarm.suppressed_by)
    by = f" by {voice.text(alarm.shelved_by, 20)}" if alarm.shelved_by else ""
    return f"shelved {words.until(alarm.shelved_until, now, voice)}{by}"


def counted(alarms: list[Alarm], now: datetime, voice: Voice) -> str:
    """1 alarm shelved until 14:00; 2 alarms shelved, the first until 14:00; 1 alarm shelved until 14:00, 1 out of
    service. Empty for none."""
    ends = sorted(alarm.shelved_until for alarm in alarms if alarm.shelved_until and not alarm.out_of_service)
    out = len(alarms) - len(ends)
    parts = []
    if ends:
        first = words.until(ends[0], now, voice)
        parts.append(f"{_alarms(len(ends))} shelved{', the first' if len(ends) > 1 else ''} {first}")
    if out:
        parts.append(f"{out if parts else _alarms(out)} out of service")
    return ", ".join(parts)


def _alarms(number: int) -> str:
    return f"{number} alarm{'' if number == 1 else 's'}"
