"""Rules about the beer's temperature: outside the yeast's range, about to leave it, off set point, near freezing."""

import itertools
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from statistics import median

from fermwatch.model.batch import Batch, EventKind
from fermwatch.model.finding import Finding, Phase, Severity
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.rules.situation import Sample, Situation, median_of, since

HIGH = "temperature-high"
LOW = "temperature-low"
LEAVING = "leaving-range"
AWAY = "away-from-set-point"
CYCLING = "cycling"
NEAR_FREEZING = "near-freezing"

HOUR = timedelta(hours=1)
QUARTER = timedelta(minutes=15)
FINISHED = {Phase.TERMINAL, Phase.CONDITIONING, Phase.PACKAGED}
HEAT_MATTERS_UNTIL = 0.75  # apparent attenuation as a share of what is expected (common practice)


def outside_range(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """The 1-h median beyond the yeast's range (warning) and the 15-min median far beyond it (critical)."""
    yield _side(situation, settings, HIGH)
    yield _side(situation, settings, LOW)


def _side(situation: Situation, settings: RuleSettings, rule: str) -> Finding:
    subject, batch = f"vessel:{situation.vessel}", situation.batch
    if batch is None or _phase(situation) is Phase.PACKAGED:
        return Finding(rule, subject, holds=False, statement="no beer is fermenting in it")
    hour = median_of(situation.beer, situation.now, HOUR)
    if hour is None:
        return Finding(rule, subject, holds=None, statement="no beer temperature for over an hour")
    beyond = _beyond(rule, hour, batch)
    limit = settings.outside_clears_c if situation.stands(rule, subject) else settings.outside_warning_c
    quarter = median_of(situation.beer, situation.now, QUARTER)
    # A float that speaks every half hour has no 15-min median most of the time.
    severity = _severity(rule, hour if quarter is None else quarter, batch, situation, settings)
    return Finding(
        rule,
        subject,
        holds=beyond > limit or severity is Severity.CRITICAL,
        severity=severity,
        statement=_statement(rule, hour, beyond, batch),
        remedy=_remedy(rule, situation, batch),
        quiet_because=_quiet(rule, situation, settings, batch),
    )


def _phase(situation: Situation) -> Phase | None:
    judged = situation.judgement
    return judged.phase.phase if judged is not None and judged.phase is not None else None


def _beyond(rule: str, temperature_c: float, batch: Batch) -> float:
    """How far outside the range on this side; negative within."""
    if rule == HIGH:
        return temperature_c - batch.yeast.temperature_high_c
    return batch.yeast.temperature_low_c - temperature_c


def _severity(rule: str, quarter_c: float, batch: Batch, situation: Situation, settings: RuleSettings) -> Severity:
    if rule == HIGH and _attenuated(situation, batch):
        return Severity.WARNING
    standing = situation.standing.get((rule, f"vessel:{situation.vessel}"))
    already = standing is not None and standing.stands and standing.severity is Severity.CRITICAL
    limit = settings.outside_critical_c - (settings.outside_warning_c if already else 0.0)
    return Severity.CRITICAL if _beyond(rule, quarter_c, batch) > limit else Severity.WARNING


def _attenuated(situation: Situation, batch: Batch) -> bool:
    """Whether most of the fermentation is over, after which heat does little to the flavour."""
    if situation.judgement is None or situation.judgement.trend is None:
        return False
    expected = (batch.yeast.attenuation_low + batch.yeast.attenuation_high) / 2
    return situation.judgement.trend.apparent_attenuation >= HEAT_MATTERS_UNTIL * expected


def _statement(rule: str, hour_c: float, beyond_c: float, batch: Batch) -> str:
    low, high = batch.yeast.temperature_low_c, batch.yeast.temperature_high_c
    side = "above" if rule == HIGH else "below"
    place = f"{beyond_c:.1f} °C {side}" if beyond_c > 0 else f"{abs(beyond_c):.1f} °C within the edge of"
    return f"beer {hour_c:.1f} °C (median of 1 h), {place} the yeast's range of {low:g}-{high:g} °C"


def _remedy(rule: str, situation: Situation, batch: Batch) -> str:
    middle = (batch.yeast.temperature_low_c + batch.yeast.temperature_high_c) / 2
    if rule == LOW:
        return f"Warm it slowly toward {middle:.0f} °C and rouse gently: cold yeast settles and gives up."
    early = situation.now - batch.pitched_at < timedelta(days=3)
    why = "; fusel alcohol is made in the first three days" if early else ""
    return f"Cool it toward {middle:.0f} °C: lower the set point, close the door, or move it{why}."


def _quiet(rule: str, situation: Situation, settings: RuleSettings, batch: Batch) -> str:
    if rule == LOW and any(event.kind is EventKind.CRASH and not event.voided for event in situation.events):
        return "planned crash"
    if rule == LOW and _phase(situation) in FINISHED:
        return "cold after finishing does no harm"
    age = situation.now - batch.pitched_at
    # In the first hour nothing can yet be said of where it moves.
    moving = age < HOUR or _moving(situation.beer, situation, toward_lower=rule == HIGH)
    if moving and age < timedelta(hours=settings.settling_h):
        return f"pitched outside the range and moving toward it; judged after {settings.settling_h:.0f} h"
    return ""


def _moving(beer: tuple[Sample, ...], situation: Situation, *, toward_lower: bool) -> bool:
    slope = slope_c_per_h(since(beer, situation.now, 3 * HOUR))
    return slope is not None and (slope < -0.05 if toward_lower else slope > 0.05)


def slope_c_per_h(samples: tuple[Sample, ...]) -> float | None:
    """Slope of the line through the medians of the first and the last third, °C per hour: a door that stood open for a
    while bends it little (the resistant line of Tukey, Exploratory Data Analysis, 1977, chapter 10).

    None from fewer than four samples or less than half an hour.
    """
    if len(samples) < 4 or samples[-1].at - samples[0].at < HOUR / 2:
        return None
    began, ended = samples[0].at, samples[-1].at
    third = (ended - began) / 3
    first = [sample for sample in samples if sample.at <= began + third]
    last = [sample for sample in samples if sample.at >= ended - third]
    rise_c = median(sample.value for sample in last) - median(sample.value for sample in first)
    return rise_c / (_middle_h(last, began) - _middle_h(first, began))


def _middle_h(samples: Sequence[Sample], began: datetime) -> float:
    return median((sample.at - began) / HOUR for sample in samples)


def leaving_range(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Still inside, but at this trend outside within hours."""
    subject, batch = f"vessel:{situation.vessel}", situation.batch
    if batch is None or _phase(situation) in FINISHED:
        yield Finding(LEAVING, subject, holds=False, statement="no beer is fermenting in it")
        return
    recent = since(situation.beer, situation.now, 3 * HOUR)
    slope = slope_c_per_h(recent)
    if slope is None:
        yield Finding(LEAVING, subject, holds=None, statement="too few temperatures for a trend")
        return
    lately = median_of(situation.beer, situation.now, HOUR / 2)
    here = recent[-1].value if lately is None else lately
    low, high = batch.yeast.temperature_low_c, batch.yeast.temperature_high_c
    room = (high - here) if slope > 0 else (here - low)
    hours = room / abs(slope) if abs(slope) > 0.05 else float("inf")
    inside = low <= here <= high
    edge = f"{high:g} °C" if slope > 0 else f"{low:g} °C"
    ahead = f"reaches {edge} in about {min(hours, 99):.0f} h" if inside else "it has left the range"
    yield Finding(
        LEAVING,
        subject,
        holds=inside and hours < settings.leaving_within_h,
        severity=Severity.ADVICE,
        statement=f"beer {here:.1f} °C, {slope:+.1f} °C an hour: {ahead}",
        remedy="Look at the set point and at the door now: it is still inside the range.",
    )


def off_set_point(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """The controller says one thing and the beer another."""
    subject = f"vessel:{situation.vessel}"
    beer = median_of(situation.beer, situation.now, HOUR)
    if beer is None or not situation.set_point:
        missing = "beer temperature for over an hour" if beer is None else "set point"
        yield Finding(AWAY, subject, holds=None, statement=f"no {missing}")
        return
    target = situation.set_point[-1].value
    apart = beer - target
    limit = settings.away_from_set_point_c * (0.6 if situation.stands(AWAY, subject) else 1.0)
    yield Finding(
        AWAY,
        subject,
        holds=abs(apart) > limit,
        statement=f"beer {beer:.1f} °C, {apart:+.1f} °C from its set point of {target:.1f} °C",
        remedy="The controller is not managing: look at the door, the compressor, and where its probe sits.",
        quiet_because=next((f"{rule} tells it" for rule in (HIGH, LOW) if situation.stands(rule, subject)), ""),
    )


def cycling(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """A compressor that starts too often wears out."""
    recent = since(situation.output, situation.now, 2 * HOUR)
    starts = sum(1 for a, b in itertools.pairwise(recent) if a.value < 0.5 <= b.value) / 2
    yield Finding(
        CYCLING,
        f"vessel:{situation.vessel}",
        holds=starts > settings.compressor_starts_per_h if recent else None,
        severity=Severity.ADVICE,
        statement=f"{starts:.1f} compressor starts an hour over 2 h, more than {settings.compressor_starts_per_h:g}",
        remedy="Widen the deadband, or put the controller's probe on the beer instead of in the air.",
    )


def near_freezing(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Beer freezes a few degrees below water; a crash goes near it on purpose."""
    subject = f"vessel:{situation.vessel}"
    now_c = median_of(situation.beer, situation.now, QUARTER)
    if now_c is None:
        now_c = median_of(situation.beer, situation.now, HOUR)
    if now_c is None:
        yield Finding(NEAR_FREEZING, subject, holds=None, statement="no beer temperature for over an hour")
        return
    crash = any(event.kind is EventKind.CRASH and not event.voided for event in situation.events)
    limit = settings.freezing_c if crash else settings.near_freezing_c
    yield Finding(
        NEAR_FREEZING,
        subject,
        holds=now_c < limit + (0.3 if situation.stands(NEAR_FREEZING, subject) else 0.0),
        severity=Severity.CRITICAL,
        statement=f"beer {now_c:.1f} °C, below {limit:g} °C",
        remedy="Raise the set point now. Frozen beer pushes out of its fermenter and can break glass.",
    )
