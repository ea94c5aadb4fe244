"""How everything is, in one plain screenful or as JSON. No colour, no drawing: words that can be read aloud."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from fermwatch.contracts.feed import InPackage, Lane, ProbeView, Snapshot
from fermwatch.contracts.store import Misread, SourceStatus, WatcherStatus
from fermwatch.drawing.lines import wrap
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Alarm
from fermwatch.model.intent import Band, Meant
from fermwatch.model.judgement import Judgement
from fermwatch.model.quantity import CANONICAL_UNIT, Unit
from fermwatch.saying import in_package, watch
from fermwatch.saying.facts import (
    AlarmFacts,
    LaneFacts,
    alarm_facts,
    lane_facts,
    quiet_alarms,
    worth_showing,
)
from fermwatch.saying.headline import headline
from fermwatch.saying.measured import Shown, shown
from fermwatch.saying.voice import CANONICAL, Units, Voice, zone_of

SCHEMA = 1
LEAST_WIDTH = 30
CHANNELS_NAMED = 3
LONGEST_REASON = 160
_INDENT = "  "
_UNIT_SUFFIX = {Unit.CELSIUS: "c", Unit.SG: "sg", Unit.BAR: "bar_gauge", Unit.FRACTION: "fraction"}


def status_text(snapshot: Snapshot, width: int = 80, *, ascii: bool = False, units: Units = CANONICAL) -> str:  # noqa: A002
    """The whole site. What needs somebody comes first within each fermenter."""
    voice = Voice(units, ascii, zone_of(snapshot.timezone))
    head = _sentence(headline(snapshot, voice).text)
    local = voice.local(snapshot.now)
    when = f"{local:%A} {local.day} {local:%B %Y %H:%M}, {voice.text(snapshot.timezone)}"
    lines = [f"{voice.text(snapshot.site)}: {head}", f"{when}.", _watching(snapshot, voice)]
    lines += [_sentence(said.text) for said in watch.site_troubles(snapshot, voice)]
    lines += [_quiet(alarm) for alarm in quiet_alarms(watch.of_no_lane(snapshot), snapshot.now, voice)]
    lines += [said for source in snapshot.sources for said in _unused(source, voice)]
    if not snapshot.lanes:
        lines += ["", "No fermenter yet: name one, with its probes, in fermwatch.toml and restart the watcher."]
    for lane in snapshot.lanes:
        lines += ["", *_lane(lane_facts(lane, snapshot.now, voice), voice)]
    lines += [""] if snapshot.stores else []
    lines += [_store(view, voice) for view in snapshot.stores]
    for one in snapshot.in_package:
        lines += ["", *_in_package(one, snapshot.now, voice)]
    return "\n".join(_wrapped(line, max(width, LEAST_WIDTH), voice) for line in lines) + "\n"


def _watching(snapshot: Snapshot, voice: Voice) -> str:
    return _sentence(watch.watcher_words(snapshot, voice).text.replace(voice.dot, ", "))


def _sentence(text: str) -> str:
    said = text[:1].upper() + text[1:]
    return said if said.endswith((".", "!", "?")) else f"{said}."


def _wrapped(line: str, width: int, voice: Voice) -> str:
    """Broken between words; what runs on is set in."""
    if len(line) <= width:
        return line
    indent = _INDENT if line.startswith(_INDENT) else ""
    first, *rest = wrap(line.strip(), width - 2 * len(_INDENT), 20, voice.ellipsis)
    return "\n".join([indent + first, *(indent + _INDENT + text for text in rest)])


def _lane(facts: LaneFacts, voice: Voice) -> list[str]:
    title = ", ".join(part for part in (facts.name, facts.batch, facts.day) if part)
    planned = [_sentence(facts.planned)] if facts.planned else []
    told = [*_alarms(facts.alarms), _temperature(facts, voice), *planned, *_gravity(facts, voice), *_judged(facts)]
    told.append(f"Probes: {facts.probes}.")
    told += [_quiet(alarm) for alarm in facts.quiet]
    return [title, *(f"{_INDENT}{line}" for line in told)]


def _store(view: ProbeView, voice: Voice) -> str:
    shown_ = shown(view, "")
    said = voice.temperature(shown_.value) if shown_.value is not None else ""
    return _sentence(f"Bottle store: {_reading(shown_, said)}")


def _in_package(one: InPackage, now: datetime, voice: Voice) -> list[str]:
    day, stands = in_package.day_words(one.packaging, now, voice), in_package.stands_words(one.conditioning, now, voice)
    told = _alarms(alarm_facts(alarm, now, voice) for alarm in worth_showing(one.alarms))
    told += in_package.dates_words(one.conditioning, now, voice)
    told += [_quiet(alarm) for alarm in quiet_alarms(one.alarms, now, voice)]
    title = f"{voice.text(one.batch.name)}, {day}, {stands} ({in_package.package_words(one.packaging)})"
    return [title, *(f"{_INDENT}{text}" for text in told)]


def _quiet(alarm: AlarmFacts) -> str:
    return _sentence(f"{alarm.state}: {alarm.statement}")


def _unused(source: SourceStatus, voice: Voice) -> list[str]:
    """What came from a source and became nothing, with the remedy."""
    name = voice.text(source.name)
    told = []
    if source.rejected:
        last = voice.text(source.last_rejection, LONGEST_REASON)
        said = f"{name}: {watch.rejected_words(source)}" + (f", the last one because: {last}" if last else "")
        told.append(f"{said.rstrip('.')}. Look at what the device sends; the log has each kind once.")
    for channel in source.unbound_channels[:CHANNELS_NAMED]:
        said = voice.text(channel, LONGEST_REASON)
        told.append(
            f"{name} also sends {said} that no probe uses. If it is a temperature, a gravity or another quantity of "
            f'beer, add a [[probe]] with channel = "{said}"; if not, leave it.'
        )
    if more := len(source.unbound_channels[CHANNELS_NAMED:]):
        told.append(f"{name} sends {more} further channel{'s' if more > 1 else ''} that no probe uses.")
    return told


def _alarms(alarms: Iterable[AlarmFacts]) -> list[str]:
    told: list[str] = []
    for alarm in alarms:
        severity = alarm.alarm.severity.value.capitalize()
        told.append(f"{severity} {alarm.state}: {alarm.statement}".replace("  ", " ").rstrip(".") + ".")
        if alarm.remedy:
            told.append(f"What to do: {alarm.remedy}")
    return told


def _reading(shown: Shown, said: str) -> str:
    if shown.value is None:
        return f"unknown, {shown.remark}" if shown.remark else "unknown"
    return f"{said}, {shown.remark}" if shown.remark else said


def _temperature(facts: LaneFacts, voice: Voice) -> str:
    beer = facts.beer
    said = f"Beer {_reading(beer, voice.temperature(beer.value) if beer.value is not None else '')}"
    if facts.range_c is not None:
        low, high = facts.range_c
        place = ""
        if beer.value is not None and not beer.faulty:
            place = f"{Band(low, high).side(beer.value) or 'within'} "
        said += f"; {place}{facts.range_name} {voice.temperature_range(low, high)}"
    if facts.set_point_c is not None:
        said += f"; set point {voice.temperature(facts.set_point_c)}"
    return f"{said}."


def _gravity(facts: LaneFacts, voice: Voice) -> list[str]:
    gravity = facts.gravity
    said = f"Gravity {_reading(gravity, voice.gravity(gravity.value) if gravity.value is not None else '')}"
    if facts.original_sg is None or facts.ending is None:
        return [f"{said}."]
    said += f"; from {voice.gravity(facts.original_sg)}"
    said += f" toward {voice.gravity_range(facts.ending.low_sg, facts.ending.high_sg)} by its {facts.ending.by}"
    if facts.attenuation is not None:
        said += f"; apparent attenuation {max(facts.attenuation, 0.0):.0%}"
    if facts.gravity_remark:
        said += f"; {facts.gravity_remark}"
    return [f"{said}."]


def _judged(facts: LaneFacts) -> list[str]:
    done = f"{facts.done} ({facts.done_spread})" if facts.done and facts.done_spread else facts.done
    phase = f"{facts.phase} ({facts.phase_reason})" if facts.phase and facts.phase_reason else facts.phase
    progress = ", ".join(part for part in (phase, facts.rate, done) if part)
    step = f"Next: {facts.step}" if facts.step else ""
    return [_sentence(text) for text in (progress, facts.sentence, step) if text]


def status_json(snapshot: Snapshot) -> dict[str, Any]:
    """The same as plain data: stable keys, ISO 8601 instants in UTC, units in the names, null where not known."""
    return {
        "schema": SCHEMA,
        "site": snapshot.site,
        "timezone": snapshot.timezone,
        "now": _iso(snapshot.now),
        "watched": snapshot.watched,
        "headline": _headline_json(snapshot),
        "misread": [_misread_json(one) for one in snapshot.misread],
        "watcher": _watcher_json(snapshot.watcher) if snapshot.watcher else None,
        "sources": [_source_json(source) for source in snapshot.sources],
        "alarms": [_alarm_json(alarm) for alarm in snapshot.alarms],
        "fermenters": [_lane_json(lane) for lane in snapshot.lanes],
        "stores": [_probe_json(view) for view in snapshot.stores],
        "conditioning": [_in_package_json(one, snapshot) for one in snapshot.in_package],
    }


def _headline_json(snapshot: Snapshot) -> dict[str, Any]:
    worst = headline(snapshot, Voice(zone=zone_of(snapshot.timezone)))
    return {"level": worst.level.value, "matter": worst.matter, "text": worst.text}


def _misread_json(one: Misread) -> dict[str, Any]:
    """A row of the store that is not in this picture."""
    return {"what": one.what, "identity": one.identity, "why": one.why, "newer_version": one.newer}


def _iso(at: datetime | None) -> str | None:
    return at.isoformat().replace("+00:00", "Z") if at is not None else None


def _watcher_json(watcher: WatcherStatus) -> dict[str, Any]:
    return {
        "version": watcher.version,
        "started_at": _iso(watcher.started_at),
        "beat_at": _iso(watcher.beat_at),
        "last_commit_at": _iso(watcher.last_commit_at),
        "readings_stored": watcher.readings_stored,
        "duplicates": watcher.duplicates,
        "trouble": watcher.trouble,
        "stopped": watcher.stopped,
    }


def _source_json(source: SourceStatus) -> dict[str, Any]:
    return {
        "name": source.name,
        "driver": source.driver,
        "state": source.state.value,
        "detail": source.detail,
        "since": _iso(source.since),
        "readings": source.readings,
        "rejected": source.rejected,
        "last_rejection": source.last_rejection,
        "unbound_channels": list(source.unbound_channels),
    }


def _alarm_json(alarm: Alarm) -> dict[str, Any]:
    return {
        "rule": alarm.rule,
        "subject": alarm.subject,
        "condition": alarm.condition.value,
        "severity": alarm.severity.value,
        "stands": alarm.stands,
        "needs_attention": alarm.needs_attention,
        "raised_at": _iso(alarm.raised_at),
        "cleared_at": _iso(alarm.cleared_at),
        "acknowledged_at": _iso(alarm.acknowledged_at),
        "acknowledged_by": alarm.acknowledged_by or None,
        "shelved_until": _iso(alarm.shelved_until),
        "out_of_service": alarm.out_of_service,
        "suppressed_by": alarm.suppressed_by or None,
        "told_by": alarm.told_by or None,
        "last_known": alarm.last_known,
        "statement": alarm.statement,
        "remedy": alarm.remedy,
    }


def _lane_json(lane: Lane) -> dict[str, Any]:
    return {
        "vessel": lane.vessel.slug,
        "name": lane.vessel.name,
        "volume_l": lane.vessel.volume_l,
        "batch": _batch_json(lane.batch) if lane.batch else None,
        "probes": [_probe_json(view) for view in lane.probes],
        "planned": _planned_json(lane.course.meant) if lane.course.meant else None,
        "alarms": [_alarm_json(alarm) for alarm in lane.alarms],
        "judgement": _judgement_json(lane.judgement) if lane.judgement else None,
    }


def _in_package_json(one: InPackage, snapshot: Snapshot) -> dict[str, Any]:
    plain = in_package.plain(one, snapshot.now, Voice(zone=zone_of(snapshot.timezone)))
    return {"batch": _batch_json(one.batch), **plain, "alarms": [_alarm_json(alarm) for alarm in one.alarms]}


def _planned_json(meant: Meant) -> dict[str, Any]:
    """The rest, ramp or crash that is in force."""
    return {
        "kind": meant.kind.value,
        "begun_at": _iso(meant.begun_at),
        "target_c": meant.target_c,
        "there_by": _iso(meant.there_by),
        "until": _iso(meant.until),
    }


def _batch_json(batch: Batch) -> dict[str, Any]:
    low, high = batch.expected_terminal_sg
    return {
        "id": batch.id,
        "name": batch.name,
        "original_sg": batch.original_sg,
        "pitched_at": _iso(batch.pitched_at),
        "volume_l": batch.volume_l,
        "yeast": batch.yeast.name,
        "range_low_c": batch.yeast.temperature_low_c,
        "range_high_c": batch.yeast.temperature_high_c,
        "expected_terminal_low_sg": round(low, 5),
        "expected_terminal_high_sg": round(high, 5),
    }


def _probe_json(view: ProbeView) -> dict[str, Any]:
    suffix = _UNIT_SUFFIX[CANONICAL_UNIT[view.probe.quantity]]
    return {
        "probe": view.probe.slug,
        "quantity": view.probe.quantity.value,
        "freshness": view.freshness.value,
        f"value_{suffix}": round(view.value, 5) if view.value is not None else None,
        "at": _iso(view.at),
        "age_s": round(view.age_s, 1) if view.age_s is not None else None,
        "flagged": view.flagged,
    }


def _judgement_json(judgement: Judgement) -> dict[str, Any]:
    trend, phase, forecast, verdict = judgement.trend, judgement.phase, judgement.forecast, judgement.verdict
    return {
        "at": _iso(judgement.at),
        "gravity_sg": round(trend.gravity_sg, 5) if trend else None,
        "estimated": trend.estimated if trend else None,
        "measured_sg": round(trend.measured_sg, 5) if trend and trend.measured_sg is not None else None,
        "measured_at": _iso(trend.measured_at) if trend else None,
        "measured_by": (trend.measured_by or None) if trend else None,
        "rate_points_per_day": round(trend.rate_points_per_day, 2) if trend else None,
        "apparent_attenuation": round(trend.apparent_attenuation, 4) if trend else None,
        "phase": phase.phase.value if phase else None,
        "phase_since": _iso(phase.since) if phase else None,
        "terminal_sg": round(forecast.terminal_sg, 5) if forecast else None,
        "terminal_low_sg": round(forecast.low_sg, 5) if forecast else None,
        "terminal_high_sg": round(forecast.high_sg, 5) if forecast else None,
        "done_at": _iso(forecast.done_at) if forecast else None,
        "verdict": verdict.kind.value if verdict else None,
        "verdict_sentence": verdict.sentence if verdict else None,
        "verdict_reasons": list(verdict.reasons) if verdict else [],
        "next_step": (verdict.next_step or None) if verdict else None,
        "next_at": _iso(verdict.next_at) if verdict else None,
    }
