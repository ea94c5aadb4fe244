"""A declared rest, ramp or crash in words: to what temperature, by when, until when."""

from datetime import datetime

from fermwatch.model.batch import Event, EventKind
from fermwatch.model.intent import Course, Meant, meant_by
from fermwatch.saying import words
from fermwatch.saying.voice import Voice


def meant_words(meant: Meant, now: datetime, voice: Voice) -> str:
    """rest at 17.0 °C until Sun 18:00; ramp to 2.0 °C by Thu 12:00; crash to 2.0 °C."""
    place = "at" if meant.kind is EventKind.REST else "to"
    said = f"{meant.kind} {place} {voice.temperature(meant.target_c)}"
    if meant.kind is EventKind.RAMP:
        said += f" by {_when(meant.there_by, now, voice)}"
    return said if meant.until is None else f"{said} until {_when(meant.until, now, voice)}"


def course_words(course: Course, now: datetime, voice: Voice) -> str:
    """What is in force now; empty where nothing is."""
    return "" if course.meant is None else f"planned {meant_words(course.meant, now, voice)}"


def event_words(event: Event, now: datetime, voice: Voice) -> str:
    """The words of an event that declares something; empty where it is another one."""
    meant = meant_by(event)
    return "" if meant is None else meant_words(meant, now, voice)


def _when(at: datetime, now: datetime, voice: Voice) -> str:
    return words.moment(at, now, voice).removeprefix("on ")
