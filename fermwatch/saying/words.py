"""Times, ages, phases, verdicts and freshness as people say them."""

from datetime import datetime

from fermwatch.contracts.feed import Freshness, ProbeView
from fermwatch.model.finding import Phase, Severity, VerdictKind
from fermwatch.model.quantity import Quantity
from fermwatch.saying.voice import Voice

MINUTE_S = 60.0
HOUR_S = 3600.0
DAY_S = 86400.0

PHASE_WORDS = {
    Phase.LAG: "lag",
    Phase.ACTIVE: "active",
    Phase.SLOWING: "slowing",
    Phase.TERMINAL: "finished",
    Phase.CONDITIONING: "maturing",
    Phase.PACKAGED: "packaged",
    Phase.NOT_STARTED: "not started",
    Phase.STALLED: "stalled",
    Phase.RESTARTED: "fermenting again",
}
VERDICT_WORDS = {
    VerdictKind.NOT_YET: "not ready to bottle",
    VerdictKind.CONFIRM: "confirm by hand before bottling",
    VerdictKind.SAFE: "safe to bottle",
    VerdictKind.HOLD: "do not bottle yet: find out",
}
KEG_VERDICT_WORDS = {
    VerdictKind.NOT_YET: "not ready to keg",
    VerdictKind.CONFIRM: "confirm by hand before kegging",
    VerdictKind.SAFE: "safe to keg",
    VerdictKind.HOLD: "do not keg yet: find out",
}
QUANTITY_WORDS = {
    Quantity.BEER_TEMPERATURE: "beer",
    Quantity.AIR_TEMPERATURE: "air",
    Quantity.STORE_TEMPERATURE: "bottle store",
    Quantity.GRAVITY: "gravity",
    Quantity.SET_POINT: "set point",
    Quantity.OUTPUT: "output",
    Quantity.CONTACT: "contact",
    Quantity.PRESSURE: "pressure",
}
RULE_WORDS = {
    "temperature-high": "too warm",
    "temperature-low": "too cold",
    "slow-start": "late to start",
    "stalled": "stalled",
    "restarted": "fermenting again",
    "safe-no-more": "not safe to bottle any more",
    "leaving-range": "about to leave its range",
    "looks-like-rest": "is it a rest?",
    "looks-like-crash": "is it a crash?",
    "set-by-plan": "to be set by the plan",
    "set-point-not-written": "set point not written",
    "plan-waits": "the plan waits for you",
    "away-from-set-point": "off its set point",
    "cycling": "compressor cycling",
    "attenuation-above-range": "went further than its yeast",
    "gravity-implausible": "gravity not believable",
    "probe-drifting": "gravity probe drifting",
    "packaged-too-early": "packaged before it was safe",
    "unwatched": "nobody watched",
    "cannot-notify": "cannot tell anybody",
    "conditioning-temperature": "too cold to condition as usual",
}
NAMED_DAYS = 5  # a weekday further away could be taken for the one on the other side of today
_NEAR_DAYS = {-1: "tomorrow", 0: "today", 1: "yesterday"}
SEVERITY_MARKS = {Severity.CRITICAL: "!!", Severity.WARNING: "!", Severity.ADVICE: "i"}


def verdict_words(kind: VerdictKind, *, keg: bool = False) -> str:
    """The verdict on what goes into bottles, or into a keg."""
    return (KEG_VERDICT_WORDS if keg else VERDICT_WORDS)[kind]


def age(seconds: float) -> str:
    """40 s, 12 min, 3 h, 2 days."""
    seconds = max(seconds, 0.0)
    if seconds < 1.5 * MINUTE_S:
        return f"{seconds:.0f} s"
    if seconds < 1.5 * HOUR_S:
        return f"{seconds / MINUTE_S:.0f} min"
    if seconds < 2 * DAY_S:
        return f"{seconds / HOUR_S:.0f} h"
    return f"{seconds / DAY_S:.0f} days"


def days(number: float) -> str:
    """1 day, 14 days."""
    return f"{number:.0f} day{'' if round(number) == 1 else 's'}"


def ago(seconds: float) -> str:
    """Coarse where it is fresh, so that a calm screen stands still."""
    return "just now" if seconds < 10 else f"{age(seconds)} ago"


def ahead(at: datetime, now: datetime) -> str:
    """in about 2 days, within the hour, any time now."""
    seconds = (at - now).total_seconds()
    if seconds <= 0:
        return "any time now"
    if seconds < HOUR_S:
        return "within the hour"
    if seconds < 1.5 * DAY_S:
        return f"in about {seconds / HOUR_S:.0f} h"
    return f"in about {seconds / DAY_S:.0f} days"


def moment(at: datetime, now: datetime, voice: Voice) -> str:
    """today 21:14, yesterday 06:02, Tue 21:14 (past), on Tue 21:14 (to come), 3 Nov 21:14, 3 Nov 2025."""
    local, today = voice.local(at), voice.local(now).date()
    days = (today - local.date()).days
    time = f"{local:%H:%M}"
    if near := _NEAR_DAYS.get(days):
        return f"{near} {time}"
    if abs(days) <= NAMED_DAYS:
        return f"{'on ' if days < 0 else ''}{local:%a} {time}"
    return f"{local.day} {local:%b} {time}" if local.year == today.year else f"{local.day} {local:%b %Y}"


def until(at: datetime, now: datetime, voice: Voice) -> str:
    return f"until {moment(at, now, voice).removeprefix('on ').removeprefix('today ')}"


def brief_moment(at: datetime | None, now: datetime, voice: Voice) -> str:
    """For where a few cells are left: 21:14, Mon 21:14, 3 Nov."""
    if at is None:
        return ""
    local = voice.local(at)
    days = (voice.local(now).date() - local.date()).days
    if days == 0:
        return f"{local:%H:%M}"
    return f"{local:%a %H:%M}" if 0 < days <= NAMED_DAYS else f"{local.day} {local:%b}"


def beer_day(pitched_at: datetime, now: datetime, voice: Voice) -> str:
    """day 5: nights since pitching, in the site's zone."""
    days = (voice.local(now).date() - voice.local(pitched_at).date()).days
    if days < 0:
        return "not pitched"
    return "pitched today" if days == 0 else f"day {days}"


def span_words(low: datetime | None, high: datetime | None, now: datetime) -> str:
    """The 90 % interval of an end: 2 to 4 days. Empty where it is not known."""
    if low is None or high is None or high <= low or high <= now:
        return ""
    first, last = max((low - now).total_seconds(), 0.0) / DAY_S, (high - now).total_seconds() / DAY_S
    if last < 2:
        return f"{first * 24:.0f} to {last * 24:.0f} h"
    return f"{first:.0f} to {last:.0f} days" if round(first) != round(last) else ""


def freshness(view: ProbeView) -> str:
    """live, stale 12 min, cut off, last known 3 h old, faulty, never heard; and why the newest is not believed."""
    said = view.freshness.value
    if view.age_s is not None and view.freshness is Freshness.STALE:
        said = f"stale {age(view.age_s)}"
    elif view.age_s is not None and view.freshness is Freshness.CUT_OFF:
        said = f"cut off, heard {ago(view.age_s)}"
    elif view.age_s is not None and view.freshness is Freshness.LAST_KNOWN:
        said = f"last known {age(view.age_s)} old"
    elif view.value is not None and view.freshness is Freshness.LAST_KNOWN:
        said = "last known, age unknown"
    elif view.freshness is Freshness.FAULTY:
        known = f", last good {ago(view.age_s)}" if view.age_s is not None else ", nothing good yet"
        return f"faulty{known}: {view.flagged}"
    return f"{said}, {view.flagged}" if view.flagged else said
