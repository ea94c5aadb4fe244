"""Is everything all right? Every truth that speaks against it, the worst first; and the headline, which is the worst.

"All well" is what is left where none of them holds: it cannot stand beside any.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from fermwatch.contracts.feed import Freshness, InPackage, Lane, ProbeView, Snapshot
from fermwatch.contracts.store import SourceState
from fermwatch.model.finding import Alarm, Severity
from fermwatch.model.subject import About
from fermwatch.saying import quiet, words
from fermwatch.saying.facts import out_of_range, worth_showing
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice
from fermwatch.saying.watch import Said, of_no_lane

LONGEST_NAME = 20
LONGEST_STATEMENT = 60


class Urgency(StrEnum):
    """How much it matters: a note asks for nothing."""

    CRITICAL = "critical"
    WARNING = "warning"
    ADVICE = "advice"
    NOTE = "note"
    WELL = "well"


_LOOKS = {
    Urgency.CRITICAL: (Ink.CRITICAL, words.SEVERITY_MARKS[Severity.CRITICAL]),
    Urgency.WARNING: (Ink.WARNING, words.SEVERITY_MARKS[Severity.WARNING]),
    Urgency.ADVICE: (Ink.ADVICE, words.SEVERITY_MARKS[Severity.ADVICE]),
    Urgency.NOTE: (Ink.PLAIN, ""),
    Urgency.WELL: (Ink.PLAIN, ""),
}


@dataclass(frozen=True, slots=True)
class Claim:
    """One thing that is so. `matter` is its stable name for programs; `brief`, where that is shorter, its text for a
    narrow screen.
    """

    matter: str
    level: Urgency
    text: str
    brief: str = ""

    @property
    def said(self) -> Said:
        return Said(self.text, *_LOOKS[self.level])

    @property
    def said_briefly(self) -> Said:
        return Said(self.brief or self.text, *_LOOKS[self.level])


def headline(snapshot: Snapshot, voice: Voice) -> Claim:
    """The worst truth there is."""
    return next(truths(snapshot, voice), Claim("well", Urgency.WELL, "all well"))


def truths(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """Everything that is not well, the worst first."""
    for look in _IN_ORDER:
        yield from look(snapshot, voice)


def _unwatched(snapshot: Snapshot, _voice: Voice) -> Iterator[Claim]:
    if snapshot.held_up and snapshot.watcher is not None:
        silent = words.age((snapshot.wall_now - snapshot.watcher.beat_at).total_seconds())
        yield Claim("store", Urgency.CRITICAL, f"the watcher runs, and has written nothing for {silent}")
    elif not snapshot.watched:
        never = snapshot.watcher is None
        why = ": the configuration has a mistake" if snapshot.mistake else ""
        said = "nobody has watched yet" if never else "nobody is watching"
        yield Claim("watcher", Urgency.CRITICAL, f"{said}{why}")


def _store(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    trouble = snapshot.watcher.trouble if snapshot.watcher is not None else ""
    if trouble:
        yield Claim("store", Urgency.CRITICAL, f"the store is in trouble: {voice.text(trouble)}")


def _configuration(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """One that was refused would end the watcher at its next start."""
    refused = snapshot.watcher.refused_configuration if snapshot.watcher is not None else ""
    if refused:
        yield Claim("configuration", Urgency.WARNING, f"the new configuration was refused: {voice.text(refused)}")


def _critical(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    yield from _needing(snapshot, voice, Severity.CRITICAL, Urgency.CRITICAL)


def _misread(snapshot: Snapshot, _voice: Voice) -> Iterator[Claim]:
    """What this program cannot read of the store may be anything."""
    if count := len(snapshot.misread):
        rows = "1 row" if count == 1 else f"{count} rows"
        newer = all(one.newer for one in snapshot.misread)
        told = "of a newer version: update this fermwatch" if newer else "cannot be read"
        verb = "" if not newer else "is " if count == 1 else "are "
        yield Claim("misread", Urgency.WARNING, f"{rows} of the store {verb}{told}")


def _warnings(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    yield from _needing(snapshot, voice, Severity.WARNING, Urgency.WARNING)


def _may_burst(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """Whoever has seen its alarm lives beside it all the same."""
    for one in snapshot.in_package:
        if one.conditioning.peril is not None:
            what = "keg" if one.packaging.in_keg else "bottles"
            text = f"the {what} of {_name(one, voice)} may {'be too full' if one.packaging.in_keg else 'burst'}"
            yield Claim("may-burst", Urgency.WARNING, text)


def _advice(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    yield from _needing(snapshot, voice, Severity.ADVICE, Urgency.ADVICE)


def _needing(snapshot: Snapshot, voice: Voice, severity: Severity, level: Urgency) -> Iterator[Claim]:
    """Everybody with an alarm that nobody has seen, where the worst of all of them is of this severity."""
    waiting = worth_showing(tuple(alarm for alarm in snapshot.alarms if alarm.needs_attention))
    if not waiting or waiting[0].severity is not severity:
        return
    of_site = [alarm for alarm in worth_showing(of_no_lane(snapshot)) if alarm.needs_attention]
    every: tuple[Lane | InPackage, ...] = (*snapshot.lanes, *snapshot.in_package)
    needing = [one for one in every if any(alarm.needs_attention for alarm in one.alarms)]
    if needing:
        names = [_name(one, voice) for one in needing] + ["the site"] * bool(of_site)
        counted = f"{len(needing)} of {len(every)} need you"
        told = counted if len(names) > 2 else f"{' and '.join(names)} need{'s' if len(names) == 1 else ''} you"
        yield Claim(f"alarms-{severity}", level, told, brief=counted if len(needing) > 1 else "")
    else:
        told = voice.text(of_site[0].statement or of_site[0].rule, LONGEST_STATEMENT)
        yield Claim(f"alarms-{severity}", level, told)


def _sources(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    away = [one for one in snapshot.sources if one.state in {SourceState.UNAVAILABLE, SourceState.REFUSED}]
    if len(away) == 1:
        since = words.brief_moment(away[0].since, snapshot.now, voice)
        yield Claim("sources", Urgency.WARNING, f"{voice.text(away[0].name, LONGEST_NAME)} is away since {since}")
    elif away:
        yield Claim("sources", Urgency.WARNING, f"{len(away)} of {len(snapshot.sources)} sources are away")


_SILENT = {Freshness.STALE, Freshness.CUT_OFF}
_ODD = {*_SILENT, Freshness.FAULTY}
_UNHEARD = {Freshness.NEVER, Freshness.LAST_KNOWN}


def _probes(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """Probes that are silent or not to be believed, but for those that somebody keeps quiet on purpose."""
    meant = {alarm.subject for alarm in quiet.kept_quiet(snapshot.alarms)}
    in_lanes = [
        (lane, view)
        for lane in snapshot.lanes
        for view in lane.probes
        if not (lane.batch is None and view.freshness is Freshness.STALE)  # nothing is in it to be heard of
    ]
    odd = [
        (lane, view)
        for lane, view in (*in_lanes, *((None, view) for view in snapshot.stores))
        if (view.freshness in _ODD or (view.flagged and view.freshness is Freshness.LIVE))
        and About.PROBE.of(view.probe.slug) not in meant
    ]
    if len(odd) == 1:
        lane, view = odd[0]
        yield Claim("probes", Urgency.WARNING, f"{_probe_name(lane, view, voice)} {_oddness(view)}")
    elif odd:
        silent = sum(view.freshness in _SILENT for _, view in odd)
        what = "silent" if silent == len(odd) else "faulty" if not silent else "silent or faulty"
        names = {lane.vessel.slug if lane else "": _place(lane, voice) for lane, _ in odd}
        where = f"{next(iter(names.values()))}: " if len(names) == 1 else ""
        yield Claim("probes", Urgency.WARNING, f"{where}{len(odd)} probes {what}")


def _place(lane: Lane | None, voice: Voice) -> str:
    return _name(lane, voice) if lane is not None else "bottle store"


def _probe_name(lane: Lane | None, view: ProbeView, voice: Voice) -> str:
    if lane is None:
        return f"bottle store: {voice.text(view.probe.slug, LONGEST_NAME)}"
    return f"{_name(lane, voice)}: {words.QUANTITY_WORDS[view.probe.quantity]}"


def _oddness(view: ProbeView) -> str:
    """silent for 7 days, faulty, doubted."""
    if view.freshness in _SILENT:
        return f"silent for {words.age(view.age_s)}" if view.age_s is not None else "silent"
    return "faulty" if view.freshness is Freshness.FAULTY else "doubted"


def _seen(snapshot: Snapshot, _voice: Voice) -> Iterator[Claim]:
    """Alarms that stand, and that somebody has seen: of a fermenter, of a packaged beer, or of the site."""

    def seen(alarms: tuple[Alarm, ...]) -> bool:
        return any(alarm.stands and not alarm.needs_attention for alarm in worth_showing(alarms))

    standing = sum(seen(lane.alarms) for lane in snapshot.lanes)
    if standing:
        yield Claim("alarms-seen", Urgency.NOTE, f"{_count(standing)} with an alarm that you have seen")
    elif seen(snapshot.alarms):
        of_site = " of the site" if seen(of_no_lane(snapshot)) else ""
        yield Claim("alarms-seen", Urgency.NOTE, f"an alarm{of_site} that you have seen")


def _missed(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """Alarms that came and went, and that nobody has seen: told calmly, for a day."""
    over = [alarm for alarm in worth_showing(snapshot.alarms) if not alarm.stands]
    if over:
        since = words.moment(over[0].cleared_at or snapshot.now, snapshot.now, voice)
        said = "an alarm is over" if len(over) == 1 else f"{len(over)} alarms are over, the gravest"
        yield Claim("alarms-over", Urgency.NOTE, f"{said} since {since}, not seen yet")


def _range(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    outside = [(lane, side) for lane in snapshot.lanes if (side := out_of_range(lane, snapshot.now))]
    if len(outside) == 1:
        lane, side = outside[0]
        yield Claim("range", Urgency.ADVICE, f"{_name(lane, voice)} is {side} its range")
    elif outside:
        yield Claim("range", Urgency.ADVICE, f"{_count(len(outside))} outside their ranges")


def _quiet(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """What a person keeps quiet. What the rules keep quiet by themselves, as cold after finishing, does no harm."""
    if kept := quiet.counted(quiet.kept_quiet(snapshot.alarms), snapshot.now, voice):
        yield Claim("quiet", Urgency.NOTE, f"quiet: {kept}")


def _unheard(snapshot: Snapshot, voice: Voice) -> Iterator[Claim]:
    """What there is nothing to say of yet."""
    for lane in snapshot.lanes:
        told = _unheard_of(lane)
        if told:
            yield Claim("unheard", Urgency.ADVICE, f"{_name(lane, voice)}: {told}")
    for view in snapshot.stores:
        if view.freshness in _UNHEARD:
            yield Claim("unheard", Urgency.ADVICE, f"{_probe_name(None, view, voice)} not heard yet")
    starting = [one for one in snapshot.sources if one.state is SourceState.STARTING]
    if starting:
        yield Claim("unheard", Urgency.NOTE, f"{voice.text(starting[0].name, LONGEST_NAME)} is not connected yet")
    if not snapshot.lanes:
        yield Claim("unheard", Urgency.ADVICE, "no fermenter yet")
    elif snapshot.watcher is not None and snapshot.watcher.last_commit_at is None and _probed(snapshot):
        yield Claim("unheard", Urgency.NOTE, "nothing heard yet")


def _probed(snapshot: Snapshot) -> bool:
    return any(lane.probes for lane in snapshot.lanes)


def _unheard_of(lane: Lane) -> str:
    never = [view for view in lane.probes if view.freshness in _UNHEARD]
    if len(never) == 1:
        return f"{words.QUANTITY_WORDS[never[0].probe.quantity]} not heard yet"
    if never:
        return f"{len(never)} probes not heard yet"
    if lane.batch is not None and not lane.probes and not any(not one.voided for one in lane.measurements):
        return "nothing measured yet"
    return ""


def _name(lane: Lane | InPackage, voice: Voice) -> str:
    if isinstance(lane, InPackage):
        return voice.text(lane.batch.name, LONGEST_NAME)
    return voice.text(lane.vessel.name or lane.vessel.slug, LONGEST_NAME)


def _count(number: int) -> str:
    return "one fermenter" if number == 1 else f"{number} fermenters"


LookFor = Callable[[Snapshot, Voice], Iterator[Claim]]
_IN_ORDER: tuple[LookFor, ...] = (
    _unwatched,
    _store,
    _critical,
    _misread,
    _sources,
    _probes,
    _configuration,
    _warnings,
    _may_burst,
    _range,
    _advice,
    _seen,
    _missed,
    _quiet,
    _unheard,
)
