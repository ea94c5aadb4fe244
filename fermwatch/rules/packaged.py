"""Rules about beer in its package: where it stands, what to do with it when, ready, past its best."""

from collections.abc import Iterable
from datetime import timedelta

from fermwatch.brewing import too_early
from fermwatch.brewing.conditioning import conditioning_of
from fermwatch.model.amounts import temperature, warmth
from fermwatch.model.batch import Batch
from fermwatch.model.conditioning import Conditioning
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.packaging import as_packaged, packaging_of
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.subject import About
from fermwatch.model.warmest import warmest_of
from fermwatch.rules.situation import Situation, median_of

CONDITIONING = "conditioning-temperature"
STORE_HOT = "bottle-store-hot"
SQUEEZE = "squeeze-the-bottle"
READY = "ready-to-drink"
PAST_BEST = "past-its-best"

REMINDED = timedelta(hours=36)  # a squeeze is worth doing until so long after its day
READY_FOR = timedelta(days=14)  # then it is no news any more

SQUEEZE_REMEDY = (
    "It should give less each time, and hardly at all by day 14. Hard on day 3 is too much gas: chill every bottle "
    f"near {temperature(0.0, None)} where it stands, with gloves and eye protection."
)
STILL_SOFT = "Still soft on day 7: warm them."
FIRST_BOTTLE = "Chill it, open it over the sink with your face turned away, and note how it is."
TOO_LITTLE_GAS = "Too little gas: a week more, warm."
FIRST_GLASS = "Draw it slowly, and note how it is."


def packaged(situation: Situation, settings: RuleSettings) -> Iterable[Finding]:
    """What there is to do about a packaged beer, and when (common practice)."""
    batch, packaging = situation.batch, packaging_of(situation.events)
    if batch is None or packaging is None:
        return
    stands = conditioning_of(batch, packaging, situation.events, situation.now, settings, situation.stood)
    yield _too_early(situation, stands)
    yield _gushed(situation, stands)
    yield _too_hot(situation, as_packaged(batch, packaging))
    yield _too_cold(situation, stands)
    yield _squeeze(situation, stands)
    yield _ready(situation, stands)
    yield _past_best(situation, stands)


def _subject(situation: Situation) -> str:
    return About.BATCH.of(situation.batch.id) if situation.batch is not None else ""


def _too_early(situation: Situation, stands: Conditioning) -> Finding:
    """Against the verdict: whoever stands beside it must know. What to do about one that gushed is said of that."""
    packaging, name = stands.packaging, _name(situation)
    gushed = stands.peril is not None and stands.peril.gushed
    return Finding(
        too_early.RULE,
        _subject(situation),
        holds=too_early.is_so(packaging),
        statement=too_early.statement(packaging, name),
        remedy="" if gushed else too_early.remedy(stands, name),
    )


def _gushed(situation: Situation, stands: Conditioning) -> Finding:
    """Of a beer of which one was opened and gushed, until the gas is let out of all."""
    peril, packaging, name = stands.peril, stands.packaging, _name(situation)
    gushed = peril is not None and peril.gushed
    others = "the keg is" if packaging.in_keg else "the other bottles are"
    vented = f"{name} gushed, and was vented" if peril is not None and peril.vented else f"{name}: none gushed"
    return Finding(
        too_early.GUSHED,
        _subject(situation),
        holds=gushed,
        statement=f"{name} gushed: {others} as full" if gushed else vented,
        remedy=too_early.remedy(stands, name) if gushed else "",
    )


def _too_hot(situation: Situation, batch: Batch) -> Finding:
    """Warmer than its pressure was reckoned for."""
    store_c, choice = median_of(situation.store, situation.now, timedelta(hours=1)), batch.package
    if store_c is None or choice is None:
        return Finding(STORE_HOT, _subject(situation), holds=None, statement="no temperature where the package stands")
    limit_c = warmest_of(choice, batch.yeast).temperature_c
    return Finding(
        STORE_HOT,
        _subject(situation),
        holds=store_c > limit_c - (0.5 if situation.stands(STORE_HOT, _subject(situation)) else 0.0),
        severity=Severity.CRITICAL,
        statement=(
            f"the bottle store is at {temperature(store_c)}, {warmth(store_c - limit_c)} above the "
            f"{temperature(limit_c, None)} that the pressure of {batch.name} was reckoned for"
            if store_c > limit_c
            else f"the bottle store is at {temperature(store_c)}"
        ),
        remedy="Cool the room; do not carry glass that is warm and full. Eye protection and gloves near it.",
    )


def _too_cold(situation: Situation, stands: Conditioning) -> Finding:
    due = stands.open_at is None or situation.now < stands.open_at
    holds = due and (stands.asleep or (stands.slower and stands.measured))
    return Finding(
        CONDITIONING,
        _subject(situation),
        holds=holds,
        severity=Severity.ADVICE,
        statement=stands.pace_words() if holds else "the days of conditioning are over" if not due else "warm enough",
        remedy=f"Let it stand at about {temperature(stands.reference_c, None)}, or wait so long.",
    )


def _squeeze(situation: Situation, stands: Conditioning) -> Finding:
    due = [at for at in stands.squeeze_at if at <= situation.now < at + REMINDED]
    day = (due[0] - stands.packaging.at) / timedelta(days=1) if due else 0.0
    return Finding(
        SQUEEZE,
        _subject(situation),
        holds=bool(due),
        severity=Severity.ADVICE,
        statement=f"{_name(situation)}: squeeze {stands.packaging.squeezed}, day {day:.0f}"
        if due
        else "nothing to squeeze today",
        remedy=_unless_too_early(stands, SQUEEZE_REMEDY, STILL_SOFT),
    )


def _ready(situation: Situation, stands: Conditioning) -> Finding:
    days = (situation.now - stands.packaging.at) / timedelta(days=1)
    conditions = stands.packaging.primed or stands.packaging.forced
    ready = conditions and stands.open_at is not None and stands.open_at <= situation.now
    ends = [at for at in (stands.open_at and stands.open_at + READY_FOR, stands.best_until) if at is not None]
    news = situation.now < min(ends, default=situation.now)
    what = "draw the first glass" if stands.packaging.in_keg else "open the first"
    return Finding(
        READY,
        _subject(situation),
        holds=ready and news,
        severity=Severity.ADVICE,
        statement=f"{_name(situation)}: {what}, day {days:.0f} in its {stands.packaging.noun}",
        remedy=FIRST_GLASS if stands.packaging.in_keg else _unless_too_early(stands, FIRST_BOTTLE, TOO_LITTLE_GAS),
    )


def _past_best(situation: Situation, stands: Conditioning) -> Finding:
    until = stands.best_until
    if until is None:
        return Finding(PAST_BEST, _subject(situation), holds=False, statement="nobody knows how long it keeps")
    days = (until - stands.packaging.at) / timedelta(days=1)
    return Finding(
        PAST_BEST,
        _subject(situation),
        holds=situation.now >= until,
        severity=Severity.ADVICE,
        statement=(
            f"{_name(situation)} is past its best: {stands.keeping} keeps about {days:.0f} days "
            f"at {temperature(stands.temperature_c, None)}"
        ),
        remedy=f'Drink up, or keep it cold; when the last is gone, end it: fermwatch batch end "{_name(situation)}"',
    )


def _unless_too_early(stands: Conditioning, text: str, warm: str) -> str:
    """What to do, and that warmth helps: never of beer that may have more to ferment than was thought."""
    return text if too_early.is_so(stands.packaging) else f"{text} {warm}"


def _name(situation: Situation) -> str:
    return situation.batch.name if situation.batch is not None else ""
