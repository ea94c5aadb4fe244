"""Keeping an alarm quiet: for how long, what that means, and what is asked of the watcher for it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.model.attention import MAX_SHELVED
from fermwatch.model.finding import Alarm, Severity
from fermwatch.requests.shapes import Asked, Service, Shelving, Unshelving
from fermwatch.saying import alarm_list, words
from fermwatch.saying.quiet import quiet_words
from fermwatch.saying.voice import Voice

SPANS = (timedelta(hours=1), timedelta(hours=4), timedelta(hours=12), MAX_SHELVED)
MORNING_H = 7


@dataclass(frozen=True, slots=True)
class Choice:
    text: str
    asked: Asked


def means(alarm: Alarm, voice: Voice) -> str:
    """What is kept quiet, and what comes of it."""
    worse = "also when it grows worse"
    if alarm.severity is Severity.CRITICAL and alarm.stands:
        worse = "though it is critical now"
    return (
        f"Keep quiet for how long: {alarm_list.brief(alarm, voice)}? Nobody is called meanwhile, {worse}; it is judged "
        "and recorded all the same, and every screen says that it is quiet, and by whom."
    )


def choices(alarm: Alarm, now: datetime, voice: Voice) -> list[Choice]:
    """First that it may speak again, where it is kept quiet; then for how long, the shortest first."""
    found = []
    why = quiet_words(alarm, now, voice)
    if alarm.out_of_service:
        found.append(Choice(f"let it speak again ({why})", Service(alarm.rule, alarm.subject, out=False)))
    elif alarm.shelved_until is not None:
        found.append(Choice(f"let it speak again ({why})", Unshelving(alarm.rule, alarm.subject)))
    ends = sorted({*(now + span for span in SPANS), _morning(now, voice)})
    for end in ends:
        hours = round((end - now) / timedelta(hours=1))
        length = f"{hours} hour{'' if hours == 1 else 's'}"
        found.append(Choice(f"{words.until(end, now, voice)} ({length})", Shelving(alarm.rule, alarm.subject, end)))
    if not alarm.out_of_service:
        out = "out of service, until somebody lets it speak again"
        found.append(Choice(out, Service(alarm.rule, alarm.subject, out=True)))
    return found


def _morning(now: datetime, voice: Voice) -> datetime:
    """The next one, where people are."""
    local = voice.local(now)
    today = local.replace(hour=MORNING_H, minute=0, second=0, microsecond=0)
    morning = (
        today
        if today > local
        else (local + timedelta(days=1)).replace(hour=MORNING_H, minute=0, second=0, microsecond=0)
    )
    return min(morning.astimezone(now.tzinfo), now + MAX_SHELVED)


def done(asked: Asked) -> str:
    """What is said when it is carried out."""
    if isinstance(asked, Unshelving) or (isinstance(asked, Service) and not asked.out):
        return "It speaks again: the watcher has noted it down."
    return "Quiet: the watcher has noted it down."
