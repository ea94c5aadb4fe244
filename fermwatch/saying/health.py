"""How the instruments do: which probe is silent, noisy, drifting or heard twice, whether anything is lost, how watcher,
store, clock, brokers and the ways to people do; each that is not well with its remedy.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations

from fermwatch.contracts.feed import Freshness, HealthAnswer, Lane, ProbeView, Snapshot
from fermwatch.contracts.kept import StoreRoom
from fermwatch.contracts.store import SourceState, SourceStatus
from fermwatch.model.amounts import points, warmth
from fermwatch.model.finding import Alarm
from fermwatch.model.quantity import Quantity
from fermwatch.model.telling import NotifierStatus
from fermwatch.saying import words
from fermwatch.saying.facts import alarm_facts
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice
from fermwatch.saying.watch import rejected_words, watcher_words

RULES = (
    "source-lost",
    "probe-silent",
    "probe-fault",
    "probe-noisy",
    "probe-stuck",
    "probe-drifting",
    "gravity-implausible",
    "not-judged",
)
APART_C, APART_SG = 1.0, 0.005  # of two probes that hang in one beer
LITTLE_ROOM = 500_000_000  # bytes: a site of twelve probes fills it in years, a log of another program in a night
CLOCKS_APART = timedelta(minutes=2)
LONGEST = 200
NAMED = 4  # channels


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is not well, what to do about it, and how grave it is."""

    text: str
    remedy: str
    ink: Ink = Ink.WARNING
    mark: str = "!"


@dataclass(frozen=True, slots=True)
class Health:
    """headline: whether anything is wrong. rows: what is well, in groups, each row with its name."""

    headline: str
    troubles: tuple[Trouble, ...]
    groups: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


def health(snapshot: Snapshot, answer: HealthAnswer | None, voice: Voice) -> Health:
    troubles = tuple(_troubles(snapshot, answer, voice))
    count = sum(bool(one.mark) for one in troubles)
    told = "Everything is heard, kept and watched." if not count else f"{count} thing{'s' * (count != 1)} to look at."
    groups = (
        ("watcher and store", tuple(_watching(snapshot, answer, voice))),
        ("sources", tuple(_source_row(one, snapshot.now, voice) for one in snapshot.sources)),
        ("probes", tuple(_probe_rows(snapshot, voice))),
        ("who is told", tuple(_notifier_rows(answer, snapshot, voice))),
    )
    return Health(told, troubles, tuple(group for group in groups if group[1]))


def _troubles(snapshot: Snapshot, answer: HealthAnswer | None, voice: Voice) -> Iterator[Trouble]:
    watcher = watcher_words(snapshot, voice)
    if watcher.mark:
        yield Trouble(_sentence(watcher.text), "", watcher.ink, watcher.mark)
    if snapshot.watcher is not None and snapshot.watcher.refused_configuration:
        said = voice.text(snapshot.watcher.refused_configuration, LONGEST)
        yield Trouble(f"The new configuration was refused: {said}", "Mend it, then: fermwatch check.")
    yield from _of_room(answer.room if answer is not None else None, voice)
    yield from _of_alarms(snapshot, voice)
    for source in snapshot.sources:
        yield from _of_source(source, voice)
    for lane in snapshot.lanes:
        yield from _doubled(lane, voice)
    for one in answer.notifiers if answer is not None else ():
        yield from _of_notifier(one, snapshot.now, voice)
    for row in snapshot.misread:
        remedy = "Update this fermwatch." if row.newer else "Keep a copy of the store, and restore a backup of before."
        yield Trouble(_sentence(voice.text(row.text, LONGEST)), remedy)


def _of_room(room: StoreRoom | None, voice: Voice) -> Iterator[Trouble]:
    if room is not None and room.free_bytes is not None and room.free_bytes < LITTLE_ROOM:
        text = f"The store's disk has {voice.text(size_words(room.free_bytes))} left."
        yield Trouble(text, "Free some: what else grows there? Readings wait in memory once it is full.")


def _of_alarms(snapshot: Snapshot, voice: Voice) -> Iterator[Trouble]:
    """Of probes and sources, seen or not: as long as it stands it is so."""
    told: list[Alarm] = [one for one in snapshot.alarms if one.rule in RULES and one.stands and not one.told_by]
    for alarm in sorted(told, key=lambda one: one.urgency):
        facts = alarm_facts(alarm, snapshot.now, voice)
        calm = alarm.is_quiet
        yield Trouble(
            f"{facts.statement.removesuffix('.')}, {facts.state}.",
            facts.remedy,
            Ink.PLAIN if calm else facts.ink if alarm.needs_attention else Ink.WARNING,
            "" if calm else facts.mark,
        )


def _of_source(source: SourceStatus, voice: Voice) -> Iterator[Trouble]:
    name = voice.text(source.name)
    if source.rejected:
        last = f", the last: {voice.text(source.last_rejection, LONGEST)}" if source.last_rejection else ""
        yield Trouble(
            f"{name}: {rejected_words(source)}{last}.", "Compare its format, unit and limits in the configuration."
        )
    if source.unbound_channels:
        shown = [voice.text(one, 40) for one in source.unbound_channels[:NAMED]]
        more = len(source.unbound_channels) - len(shown)
        listed = ", ".join(shown) + (f" and {more} more" if more else "")
        yield Trouble(
            f"{name} brings what no probe is named for: {listed}.",
            "Nothing of it is kept. Name a [[probe]] for what you want.",
            Ink.PLAIN,
            "",
        )


def _doubled(lane: Lane, voice: Voice) -> Iterator[Trouble]:
    """Two probes of one quantity in one beer that tell two things."""
    for quantity, apart in ((Quantity.BEER_TEMPERATURE, APART_C), (Quantity.GRAVITY, APART_SG)):
        live = [one for one in lane.probes if one.probe.quantity is quantity and one.freshness is Freshness.LIVE]
        for one, other in combinations(live, 2):
            if one.value is None or other.value is None or abs(one.value - other.value) <= apart:
                continue
            by = abs(one.value - other.value)
            far = voice.text(warmth(by) if quantity is Quantity.BEER_TEMPERATURE else points(by * 1000.0, 0))
            names = f"{voice.text(one.probe.slug)} and {voice.text(other.probe.slug)}"
            yield Trouble(
                f"{voice.text(lane.vessel.name)}: {names} hang in one beer, and are {far} apart.",
                "Compare both with a thermometer or hydrometer that you trust, and calibrate: fermwatch calc sensor.",
            )


def _of_notifier(one: NotifierStatus, now: datetime, voice: Voice) -> Iterator[Trouble]:
    if one.failing_since is not None:
        since, why = words.moment(one.failing_since, now, voice), voice.text(one.detail, LONGEST)
        waits = f" {one.waits} message{'s wait' if one.waits != 1 else ' waits'}." if one.waits else ""
        text = f"{voice.text(one.name)} tells nobody since {since}: {why.rstrip('.')}.{waits}"
        yield Trouble(text, f"Try it: fermwatch notify test {voice.text(one.name)}.")


def _watching(snapshot: Snapshot, answer: HealthAnswer | None, voice: Voice) -> Iterator[tuple[str, str]]:
    watcher = snapshot.watcher
    if watcher is None:
        return
    if snapshot.watched:
        beat = words.ago((snapshot.wall_now - watcher.beat_at).total_seconds())
        since = words.moment(watcher.started_at, snapshot.wall_now, voice)
        yield "watcher", f"awake, sign of life {beat}; version {voice.text(watcher.version)}, started {since}"
    if watcher.last_commit_at is not None:
        stored = words.ago((snapshot.now - watcher.last_commit_at).total_seconds())
        twice = f", {watcher.duplicates:,} delivered twice and kept once" if watcher.duplicates else ""
        yield "last stored", f"{stored}; {watcher.readings_stored:,} readings since it started{twice}"
    if answer is not None:
        room = answer.room
        free = "" if room.free_bytes is None else f", {size_words(room.free_bytes)} free on its disk"
        yield "store", f"{size_words(room.size_bytes)}{free}"
    apart = watcher.now - watcher.beat_at
    if abs(apart) > CLOCKS_APART:
        way = "ahead of" if apart > timedelta(0) else "behind"
        yield "clock", f"it decides by a time {words.age(abs(apart.total_seconds()))} {way} this computer's"
    else:
        yield "clock", "the watcher's and this computer's agree"


def _source_row(one: SourceStatus, now: datetime, voice: Voice) -> tuple[str, str]:
    since = words.moment(one.since, now, voice)
    detail = f", {voice.text(one.detail, 80)}" if one.detail and one.state is SourceState.CONNECTED else ""
    readings = "1 reading" if one.readings == 1 else f"{one.readings:,} readings"
    heard = f"; {readings} since the watcher started" if one.readings else "; nothing heard yet"
    return voice.text(one.name), f"{one.state} since {since}{detail}{heard} ({voice.text(one.driver)})"


def _probe_rows(snapshot: Snapshot, voice: Voice) -> Iterator[tuple[str, str]]:
    for lane in snapshot.lanes:
        yield voice.text(lane.vessel.name or lane.vessel.slug), _probes(lane.probes, voice)
    if snapshot.stores:
        yield "bottle store", _probes(snapshot.stores, voice)


def _probes(probes: Sequence[ProbeView], voice: Voice) -> str:
    """Those that are not live by name and with how they are; the others together."""
    if not probes:
        return "no probe: measured by hand"
    odd = [one for one in probes if one.freshness is not Freshness.LIVE or one.flagged]
    told = [f"{voice.text(one.probe.slug)} {voice.text(words.freshness(one))}" for one in odd]
    live = [words.QUANTITY_WORDS[one.probe.quantity] for one in probes if one not in odd]
    return "; ".join([*told, *([f"live: {', '.join(live)}"] if live else [])])


def _notifier_rows(answer: HealthAnswer | None, snapshot: Snapshot, voice: Voice) -> Iterator[tuple[str, str]]:
    if answer is None:
        return
    if not answer.notifiers:
        yield "nobody", "no [[notify]] is configured: alarms stand on screens alone"
    for one in answer.notifiers:
        last = "nothing yet" if one.told_at is None else f"last {words.moment(one.told_at, snapshot.now, voice)}"
        yield voice.text(one.name), f"by {voice.text(one.by)}, told {last}"


def size_words(count: int) -> str:
    """48 MB, 9.0 GB: of a thousand, as disks are sold."""
    if count < 1_000_000:
        return f"{max(count, 0) / 1000:.0f} kB"
    if count < 1_000_000_000:
        return f"{count / 1_000_000:.0f} MB"
    return f"{count / 1_000_000_000:.1f} GB"


def _sentence(text: str) -> str:
    said = text[:1].upper() + text[1:]
    return said if said.endswith(".") else f"{said}."
