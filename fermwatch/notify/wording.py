"""What is told, in words for a person in bed: what, where, since when, how far, what to do, and what is known of the
forecast. Plain text, cleaned, in the units that the site chose for its messages.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from fermwatch.contracts.feed import Lane, Snapshot
from fermwatch.contracts.notifier import Notification, NotificationPart
from fermwatch.model.finding import Severity
from fermwatch.model.subject import About, about_fermenter, name_of
from fermwatch.model.telling import Why
from fermwatch.notify.due import Due
from fermwatch.saying.facts import alarm_facts, lane_facts
from fermwatch.saying.voice import Voice
from fermwatch.saying.words import moment

MOST_PARTS = 8  # in words; the rest is counted
LONGEST_TITLE = 120
SHORT_ID = 8  # letters of an id that a person sees
_ID_LETTERS = 16


def message_of(found: Sequence[Due], snapshot: Snapshot, now: datetime, voice: Voice) -> Notification:
    """One message for all that is due, the worst first. ValueError where nothing is."""
    if not found:
        raise ValueError("a message tells something")
    where = _where(snapshot, voice)
    parts = tuple(_part(one, where, now, voice) for one in found)
    identity = _identity(*(part.id for part in parts))
    lines = [part.text for part in parts[:MOST_PARTS]]
    if (more := len(parts) - MOST_PARTS) > 0:
        lines.append(f"And {more} more: fermwatch alarms")
    lines += _beers(found, snapshot, now, voice)
    lines.append(f"({snapshot.site}, message {identity[:SHORT_ID]})")
    return Notification(
        id=identity,
        thread=parts[0].thread,
        site=snapshot.site,
        at=now,
        severity=max((one.alarm.severity for one in found), key=lambda severity: severity.rank),
        title=_title(found, where, now, voice),
        text="\n\n".join(lines),
        parts=parts,
    )


def trial_message(site: str, notifier: str, now: datetime, *, after_trouble: bool = False) -> Notification:
    """For who wants to know whether anything arrives. after_trouble: for a while nothing could."""
    identity = _identity("test", notifier, now.isoformat())
    text = f"A test, and nothing is wrong: what fermwatch has to tell arrives here by {notifier}."
    if after_trouble:
        text = f"Nothing could be told by {notifier} for a while; now it can. Nothing waits to be told."
    return Notification(identity, identity, site, now, Severity.ADVICE, f"fermwatch at {site}: a test", text)


def _identity(*said: str) -> str:
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:_ID_LETTERS]


def _part(one: Due, where: Mapping[str, str], now: datetime, voice: Voice) -> NotificationPart:
    alarm = one.alarm
    thread = _identity(alarm.rule, alarm.subject, str(alarm.occurrence))
    return NotificationPart(
        id=_identity(thread, str(one.why), str(one.times)),
        thread=thread,
        rule=alarm.rule,
        subject=alarm.subject,
        severity=alarm.severity,
        why=one.why,
        since=alarm.raised_at,
        text=_told(one, where, now, voice),
    )


def _told(one: Due, where: Mapping[str, str], now: datetime, voice: Voice) -> str:
    """Left: 24.1 °C ... Since yesterday 23:10. What to do."""
    facts = alarm_facts(one.alarm, now, voice)
    name = where.get(one.alarm.subject) or voice.text(name_of(one.alarm.subject), 40)
    began = moment(one.alarm.raised_at, now, voice) if one.alarm.raised_at else ""
    ended = moment(one.alarm.cleared_at, now, voice) if one.alarm.cleared_at else ""
    match one.why:
        case Why.OVER:
            return f"{name}: over since {ended}. {_sentence(facts.statement)} It began {began}."
        case Why.PASSED:
            return f"{name}: {facts.brief} from {began} to {ended}, and over. {_sentence(facts.statement)}"
        case Why.AGAIN:
            said = f"{name}, still: {_sentence(facts.statement)} Since {began}; nobody has said that it was seen."
        case Why.WORSE:
            said = f"{name}, and worse: {_sentence(facts.statement)} Since {began}."
        case Why.BEGAN:
            said = f"{name}: {_sentence(facts.statement)} Since {began}."
    return f"{said} {facts.remedy}".rstrip()


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _title(found: Sequence[Due], where: Mapping[str, str], now: datetime, voice: Voice) -> str:
    """Left: too warm; of several, the worst, and how many more."""
    first = found[0]
    name = where.get(first.alarm.subject) or voice.text(name_of(first.alarm.subject), 40)
    brief = alarm_facts(first.alarm, now, voice).brief
    before = {Why.OVER: "over: ", Why.PASSED: "over by now: ", Why.AGAIN: "still: ", Why.WORSE: "worse: "}
    more = f", and {len(found) - 1} more" if len(found) > 1 else ""
    return voice.text(f"{name}: {before.get(first.why, '')}{brief}{more}", LONGEST_TITLE)


def _where(snapshot: Snapshot, voice: Voice) -> Mapping[str, str]:
    """The name of what each subject is about, as a person calls it."""
    names = {About.BATCH.of(one.batch.id): voice.text(one.batch.name, 40) for one in snapshot.in_package}
    for lane in snapshot.lanes:
        name = voice.text(lane.vessel.name or lane.vessel.slug, 40)
        for view in lane.probes:
            probe = voice.text(view.probe.slug, 40)
            names[About.PROBE.of(view.probe.slug)] = (
                probe if name.casefold() in probe.casefold() else f"{name}, {probe}"
            )
        names[About.FERMENTER.of(lane.vessel.slug)] = name
        if lane.batch is not None:
            names[About.BATCH.of(lane.batch.id)] = name
    return names


def _beers(found: Iterable[Due], snapshot: Snapshot, now: datetime, voice: Voice) -> list[str]:
    """How the beers that are meant do, each once: what is known of the forecast helps to decide whether to get up."""
    return [
        line
        for lane in snapshot.lanes
        if any(one.alarm.subject in _subjects(lane) and one.alarm.stands for one in found)
        and (line := _beer(lane, now, voice))
    ]


def _subjects(lane: Lane) -> frozenset[str]:
    probes = (view.probe.slug for view in lane.probes)
    return about_fermenter(lane.vessel.slug, probes, None if lane.batch is None else lane.batch.id)


def _beer(lane: Lane, now: datetime, voice: Voice) -> str:
    if lane.batch is None:
        return ""
    facts = lane_facts(lane, now, voice)
    said = [f"{facts.name}, {facts.batch}, {facts.day}"]
    if facts.beer.value is not None:
        said.append(
            f"beer {voice.temperature(facts.beer.value)}{f' ({facts.beer.remark})' if facts.beer.remark else ''}"
        )
    if facts.gravity.value is not None:
        said.append(f"gravity {voice.gravity(facts.gravity.value)}")
    said += [one for one in (facts.phase, facts.done) if one]
    return f"{', '.join(said)}."
