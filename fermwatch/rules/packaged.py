"""Rules about beer in its package: warm enough to condition, ready, past its best."""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.model.amounts import temperature, temperature_range, warmth
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.rules.situation import Situation, median_of

CONDITIONING = "conditioning-temperature"
READY = "ready-to-drink"
PAST_BEST = "past-its-best"


def packaged(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """Bottle conditioning wants warmth for two weeks or so; freshness has an end (common practice)."""
    batch, event = situation.batch, _packaging(situation.events)
    if batch is None or event is None:
        return
    subject = f"batch:{batch.id}"
    age = situation.now - event.at
    conditioning = age < timedelta(days=settings.conditioning_days)
    days = age / timedelta(days=1)
    if conditioning:
        yield _conditioning(situation, settings, subject)
    else:
        yield Finding(CONDITIONING, subject, holds=False, statement="the days of conditioning are over")
    yield Finding(
        READY,
        subject,
        holds=not conditioning and days < settings.best_within_days,
        severity=Severity.ADVICE,
        statement=f"packaged {days:.0f} days ago: ready to drink",
        remedy="Chill one, open it over the sink, and note how it is.",
    )
    yield Finding(
        PAST_BEST,
        subject,
        holds=days >= settings.best_within_days,
        severity=Severity.ADVICE,
        statement=f"packaged {days:.0f} days ago, past its best of {settings.best_within_days:.0f} days",
        remedy=f"Drink up, or keep it cold. {warmth(10, None)} warmer more than halves what is left of its freshness.",
    )


def _packaging(events: tuple[Event, ...]) -> Event | None:
    done = [event for event in events if event.kind is EventKind.PACKAGED and not event.voided]
    return done[-1] if done else None


def _conditioning(situation: Situation, settings: RuleSettings, subject: str) -> Finding:
    store_c = median_of(situation.beer, situation.now, timedelta(hours=1))
    if store_c is None:
        return Finding(CONDITIONING, subject, holds=None, statement="no temperature where the package stands")
    low, high = settings.conditioning_low_c, settings.conditioning_high_c
    side = "too cold" if store_c < low else "too warm"
    return Finding(
        CONDITIONING,
        subject,
        holds=not low <= store_c <= high,
        statement=f"the package stands at {temperature(store_c)}, {side} to condition ({temperature_range(low, high)})",
        remedy="Warm it." if store_c < low else "Move it somewhere cooler: warmth raises the pressure in the bottle.",
    )
