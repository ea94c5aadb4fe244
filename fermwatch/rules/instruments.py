"""Rules about the probes themselves and about the sources that they come from."""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta

from fermwatch.contracts.store import ControllerStatus, SourceState, SourceStatus
from fermwatch.model.amounts import temperature, warmth
from fermwatch.model.degree import Degree
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.quantity import Quantity
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.rules.situation import Situation, since

SILENT = "probe-silent"
FAULT = "probe-fault"
STUCK = "probe-stuck"
NOISY = "probe-noisy"
SOURCE_LOST = "source-lost"

STUCK_SPAN = timedelta(hours=6)
STUCK_SAMPLES = 60
NOISY_C = 1.0


def silence(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """A probe that was heard and is no longer. Quiet while its whole source is lost: that is told once."""
    for probe in situation.probes:
        silent = probe.silent(situation.now)
        if silent is None or probe.last_at is None:
            continue
        hours = (situation.now - probe.last_at) / timedelta(hours=1)
        span = f"{60 * hours:.0f} min" if hours < 2 else f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} days"
        yield Finding(
            SILENT,
            About.PROBE.of(probe.slug),
            holds=silent,
            statement=f"{probe.slug} has said nothing for {span}" if silent else f"{probe.slug} speaks again",
            remedy="Look at its cable, its battery and its reach.",
            quiet_because=_quiet_silence(situation),
            told_by=SOURCE_LOST if probe.source_lost else "",
        )


def _quiet_silence(situation: Situation) -> str:
    if situation.batch is not None:
        return ""
    return "no beer is in the fermenter" if situation.vessel else "nothing conditions there"


def faults(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """A probe whose newest word cannot be believed; a gravity probe's is told by a rule of its own."""
    for probe in situation.probes:
        if probe.quantity is not Quantity.GRAVITY:
            yield Finding(
                FAULT,
                About.PROBE.of(probe.slug),
                holds=None if probe.last_at is None else bool(probe.flagged),
                statement=f"{probe.slug}: {probe.flagged}" if probe.flagged else f"{probe.slug} makes sense again",
                remedy="Look at its cable and connector, and whether its unit is the configured one.",
            )


def beer_probe(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """A beer temperature that never moves, or that jumps about as beer cannot."""
    recent = since(situation.beer, situation.now, STUCK_SPAN)
    subject = About.FERMENTER.of(situation.vessel)
    if situation.batch is None:
        for rule in (STUCK, NOISY):
            yield Finding(rule, subject, holds=False, statement="no beer is in it")
        return
    if len(recent) < STUCK_SAMPLES:
        for rule in (STUCK, NOISY):
            yield Finding(rule, subject, holds=None, statement="too few temperatures to tell")
        return
    values = [sample.value for sample in recent]
    steps = sorted(abs(b - a) for a, b in itertools.pairwise(values))
    covered = recent[-1].at - recent[0].at > STUCK_SPAN * 0.9
    yield Finding(
        STUCK,
        subject,
        holds=covered and steps[-1] == 0.0,
        severity=Severity.ADVICE,
        statement=f"the beer probe has said exactly {temperature(values[-1], 2)} for 6 h",
        remedy="Warm it with a hand for a minute: if nothing moves, it is stuck.",
    )
    typical = steps[int(len(steps) * 0.9)]
    yield Finding(
        NOISY,
        subject,
        holds=typical > NOISY_C,
        severity=Severity.ADVICE,
        statement=f"the beer probe jumps by {warmth(typical)} from reading to reading",
        remedy="Look for a wet connector, and keep its cable away from the compressor's.",
    )


def sources(
    statuses: Sequence[SourceStatus],
    mute: Mapping[str, Sequence[str]],
    controllers: Mapping[str, ControllerStatus] | None = None,
) -> Iterable[Finding]:
    """A source that is lost, or that waits for a person, or that is there and none of whose probes speaks any more.

    mute: the probes of each source of the last kind. controllers: of the sources that are controllers, by name.
    """
    for status in statuses:
        lost = status.state in {SourceState.UNAVAILABLE, SourceState.REFUSED}
        unknown = status.state is SourceState.STARTING
        silent = () if lost else mute.get(status.name, ())
        look = "Look at the board's power and program. " if silent else ""
        yield Finding(
            SOURCE_LOST,
            About.SOURCE.of(status.name),
            holds=None if unknown else lost or bool(silent),
            severity=Severity.WARNING,
            statement=_source_statement(status, silent, lost=lost),
            remedy=f"{look}Nothing that hangs on it is watched until it is back."
            f"{_meanwhile((controllers or {}).get(status.name))}",
        )


def _meanwhile(controller: ControllerStatus | None) -> str:
    """What becomes of the beer while nobody speaks with the controller."""
    if controller is None:
        return ""
    if controller.degree is Degree.DRIVE:
        return (
            f" Nothing is switched for {controller.vessel} meanwhile: what was on is dropped by the device itself, "
            "where it has a dead-man, else it stays on. Look at the beer now."
        )
    held = "" if controller.set_point_c is None else f" at {temperature(controller.set_point_c)}"
    waits = " The plan's next step is not written until then." if controller.degree is Degree.SET else ""
    return f" The controller goes on by itself{held}, as it was set last.{waits}"


def _source_statement(status: SourceStatus, silent: Sequence[str], *, lost: bool) -> str:
    """Also of what is over: the port alone, by which a driver names what it is connected to, says nothing of it."""
    if silent:
        more = f", {len(silent) - 2} more with them" if len(silent) > 2 else ""
        named = " and ".join(silent[:2])
        return f"{status.name} is connected, and none of its probes speaks: {named} are silent{more}"
    if lost:
        return f"{status.name} is away: {status.detail}" if status.detail else f"{status.name} is away"
    return f"{status.name} was away or silent, and is back" if status.state is SourceState.CONNECTED else ""
