"""What there is to say of a controller that may be written to."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.contracts.store import ControllerStatus, JournalEntry
from fermwatch.model.degree import Degree, Output
from fermwatch.saying import words
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice

UNSEEN_AFTER = timedelta(minutes=3)  # it is looked at every few seconds, and kept once a minute
DOES = {Output.COOL: "cools", Output.HEAT: "heats"}


@dataclass(frozen=True, slots=True)
class ControllerFacts:
    """name: its source's. degree, by, since: how far somebody let fermwatch go. at_most: as the configuration allows.

    set_point_c: as a probe heard it within the hour. written: what was written last, the newest first.
    """

    name: str
    vessel: str
    degree: Degree
    by: str
    since: datetime | None
    at_most: Degree
    low_c: float | None
    high_c: float | None
    set_point_c: float | None
    written: tuple[JournalEntry, ...] = ()

    @property
    def written_at(self) -> datetime | None:
        return self.written[0].at if self.written else None


@dataclass(frozen=True, slots=True)
class AtWork:
    """What a controller does now, in one line; ink and mark tell that it does not do what it should. brief: for where
    there is little room.
    """

    text: str
    brief: str
    ink: Ink
    mark: str = ""


def at_work(status: ControllerStatus, now: datetime, voice: Voice) -> AtWork:
    """fridge is set to 18.0 °C by the plan, cools"""
    name, unseen = voice.text(status.name), status.at is None or now - status.at > UNSEEN_AFTER
    said = [f"{name} {_degree_words(status, voice)}", *_shown_words(status, voice)]
    if status.at is None:
        said.append("not seen yet")
    elif unseen:
        said.append(f"last seen {words.ago((now - status.at).total_seconds())}")
    tells = f"it tells: {voice.text(' and '.join(status.alarms).replace('-', ' '), 80)}" if status.alarms else ""
    text, trouble = ", ".join([*said, *([tells] if tells else [])]), voice.text(status.trouble).rstrip(".")
    if not (trouble or tells):
        waits = waits_words(status, voice)
        brief = ", ".join("and waits" if status.waits and part == waits else part for part in said)
        return AtWork(text, brief, Ink.PLAIN if unseen else Ink.FAINT)
    whole = f"{text}: {trouble}" if trouble else text
    return AtWork(whole, f"! {name}: {trouble or tells}", Ink.PLAIN, "!")


def _degree_words(status: ControllerStatus, voice: Voice) -> str:
    if status.degree is Degree.OBSERVE:
        return "is only read"
    if status.target_c is None:
        return "waits for a plan"
    does = "is driven" if status.degree is Degree.DRIVE else "is set"
    return f"{does} to {voice.temperature(status.target_c)} by the plan"


def _shown_words(status: ControllerStatus, voice: Voice) -> list[str]:
    """Its set point where that says something beside the plan's; and what it does."""
    said = []
    as_meant = status.degree is Degree.SET and status.set_point_c == status.target_c
    if status.set_point_c is not None and status.degree is not Degree.DRIVE and not as_meant:
        said.append(f"set point {voice.temperature(status.set_point_c)}")
    if status.on is not None:
        said.append(" and ".join(DOES[one] for one in status.on) or "nothing on")
    if status.waits:
        said.append(waits_words(status, voice))
    return said


def waits_words(status: ControllerStatus, voice: Voice) -> str:
    """What an output that is wished must wait for."""
    said = voice.text(status.waits).rstrip(".").replace(". ", ", ")
    return f"waits: {said[:1].lower()}{said[1:]}"
