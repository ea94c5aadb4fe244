"""How everything is, in one plain screenful. No colour, no drawing: words that can be read aloud."""

from collections.abc import Iterable
from datetime import datetime

from fermwatch.contracts.feed import InPackage, ProbeView, Snapshot
from fermwatch.contracts.store import SourceStatus
from fermwatch.drawing.lines import wrap
from fermwatch.model.intent import Band
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

LEAST_WIDTH = 30
CHANNELS_NAMED = 3
LONGEST_REASON = 160
_INDENT = "  "


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
    planned += [_sentence(f"Controller {one.text}") for one in facts.controllers]
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
    told += in_package.too_early_words(one, voice)
    told += in_package.dates_words(one, now, voice)
    told += [_quiet(alarm) for alarm in quiet_alarms(one.alarms, now, voice)]
    title = f"{voice.text(one.batch.name)}, {day}, {stands} ({in_package.held_words(one)})"
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
    named = [voice.text(channel, LONGEST_REASON) for channel in source.unbound_channels[:CHANNELS_NAMED]]
    if more := len(source.unbound_channels[CHANNELS_NAMED:]):
        named.append(f"{more} more")
    if named:  # one line a source, and calmly: most of them are no quantity of beer
        told.append(f"{name} also sends {', '.join(named)}: used by no [[probe]], as it may be.")
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
    if facts.estimate_sg is not None:
        said += " by the probe"
    if facts.original_sg is None or facts.ending is None:
        return [f"{said}."]
    said += f"; from {voice.gravity(facts.original_sg)}"
    said += f" toward {voice.gravity_range(facts.ending.low_sg, facts.ending.high_sg)} by its {facts.ending.by}"
    if facts.ending.rests_on:
        said += f" ({voice.text(facts.ending.rests_on)})"
    if facts.gravity_remark:
        said += f"; {facts.gravity_remark}"
    if facts.attenuation is not None:
        of_it = "" if facts.estimate_sg is None else f" at {voice.gravity(facts.estimate_sg)}"
        said += f"; apparent attenuation {max(facts.attenuation, 0.0):.0%}{of_it}"
    return [f"{said}."]


def _judged(facts: LaneFacts) -> list[str]:
    done = f"{facts.done} ({facts.done_spread})" if facts.done and facts.done_spread else facts.done
    phase = f"{facts.phase} ({facts.phase_reason})" if facts.phase and facts.phase_reason else facts.phase
    progress = ", ".join(part for part in (phase, facts.rate, done) if part)
    step = f"Next: {facts.step}" if facts.step else ""
    return [_sentence(text) for text in (progress, facts.sentence, step) if text]
