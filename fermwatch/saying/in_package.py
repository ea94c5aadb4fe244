"""What there is to say of a beer in its bottles or keg: its day, where it stands, and the dates to come."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from fermwatch.brewing import too_early
from fermwatch.contracts.feed import InPackage
from fermwatch.model.conditioning import AT_ITS_BEST, PAST_ITS_BEST, Conditioning, Peril
from fermwatch.model.packaging import Packaging
from fermwatch.saying import words
from fermwatch.saying.voice import Voice
from fermwatch.science.packages import PACKAGES

STALE = timedelta(hours=6)
_BEFORE_DATE = {AT_ITS_BEST: "from", PAST_ITS_BEST: "about"}
LONGEST = 1000  # characters
NEAR_DAYS = 6  # further away, a weekday could be taken for another


def day_number(packaging: Packaging, now: datetime, voice: Voice) -> int:
    """Nights since it was packaged, in the site's zone."""
    return (voice.local(now).date() - voice.local(packaging.at).date()).days


def day_words(packaging: Packaging, now: datetime, voice: Voice) -> str:
    """day 4 in the bottle; bottled today; day 4 in the keg, under pressure."""
    day = day_number(packaging, now, voice)
    how = "" if not packaging.in_keg else ", under pressure" if packaging.forced else ", primed"
    if day <= 0:
        return "put into its keg today" if packaging.in_keg else "bottled today"
    return f"day {day} in the {packaging.noun}{how}"


def stands_words(known: Conditioning, now: datetime, voice: Voice) -> str:
    """at 19.4 °C; at 20 °C, as planned; what may burst stands nowhere that was told before."""
    if known.heard_at is not None:
        silent = "" if now - known.heard_at < STALE else f", last heard {words.moment(known.heard_at, now, voice)}"
        return f"at {voice.temperature(known.temperature_c)}{silent}"
    if known.peril is not None:
        return voice.text(f"to be kept near {too_early.NEAR_ZERO}")
    return f"at {voice.bare_temperature(known.temperature_c)} {voice.degree_unit}, as planned"


def date_words(at: datetime, now: datetime, voice: Voice) -> str:
    """A day as people say it, without an hour that means nothing: today, tomorrow, on Sun 29 Nov, on 3 Mar 2027."""
    local, today = voice.local(at), voice.local(now)
    days = (local.date() - today.date()).days
    if days in {-1, 0, 1}:
        return {-1: "yesterday", 0: "today", 1: "tomorrow"}[days]
    day = f"{local.day} {local:%b}" if local.year == today.year else f"{local.day} {local:%b %Y}"
    return f"on {local:%a} {day}" if 0 < days <= NEAR_DAYS else f"on {day}"


def next_words(known: Conditioning, now: datetime, voice: Voice) -> str:
    """squeeze the PET bottle, day 7, on Sun 29 Nov; where no date is left, why not."""
    found = known.next_date(now)
    if found is None and known.peril is not None:
        return _perilous(known.packaging, known.peril)
    if found is None:
        return PAST_ITS_BEST
    at, what = found
    when = date_words(at, now, voice)
    if what in _BEFORE_DATE:
        return f"{what} {_BEFORE_DATE[what]} {when.removeprefix('on ')}"
    return f"{what} {when}"


def _perilous(packaging: Packaging, peril: Peril) -> str:
    """What there is to do at once."""
    if packaging.in_keg:
        return "keep it cold, pull its relief valve"
    return "vent every cap, cold" if peril.gushed else "keep cold, drink soon"


def dates_words(one: InPackage, now: datetime, voice: Voice) -> list[str]:
    """Every date in a sentence of its own; which of them are common practice is said once."""
    known = one.conditioning
    packaging = known.packaging
    if known.peril is not None:
        return _peril_words(one, known.peril, now, voice)
    said = []
    if known.shown_at is not None:
        shown = date_words(known.shown_at, now, voice)
        said.append(f"One that stood warm was opened calm {shown}: so they should hold.")
    squeezes = [at for at in known.squeeze_at if at > now]
    if squeezes:
        days = ", ".join(date_words(at, now, voice).removeprefix("on ") for at in squeezes)
        said.append(f"Squeeze {packaging.squeezed}: {days}.")
    if not packaging.primed and not packaging.forced and not packaging.in_keg:
        said.append("No sugar went in: the bottles stay as flat as the beer was, however long they stand.")
    elif known.open_at is not None and known.days_to_open is not None:
        what = "Draw the first glass" if packaging.in_keg else "Open the first"
        when = date_words(known.open_at, now, voice)
        if known.open_at <= now:
            since = "" if when == "today" else "since "
            said.append(f"Ready {since}{when.removeprefix('on ')}, after {words.days(known.days_to_open)}.")
        else:
            said.append(f"{what} {when}: {words.days(known.days_to_open)}.")
    if (slow := voice.text(known.pace_words())) and (known.open_at is None or known.open_at > now):
        said.append(f"{slow[:1].upper()}{slow[1:]}.")
    if known.best_until is None:
        return said
    best = (
        f"until about {date_words(known.best_until, now, voice).removeprefix('on ')} ({known.keeping}, common practice)"
    )
    if known.best_until <= now:
        said.append(f"Past its best since about {date_words(known.best_until, now, voice).removeprefix('on ')}.")
    elif known.best_from is not None and known.best_from > now:
        said.append(f"At its best from {date_words(known.best_from, now, voice).removeprefix('on ')} {best}.")
    else:
        said.append(f"Best {best}.")
    return said


def _peril_words(one: InPackage, peril: Peril, now: datetime, voice: Voice) -> list[str]:
    """Of beer that may burst its package: how the last was that was opened, and what that shows."""
    dateless = "No dates while it may be too full." if one.packaging.in_keg else "No dates while they may burst."
    if peril.opened_at is None:
        return [dateless]
    when = date_words(peril.opened_at, now, voice)
    if peril.gushed:
        return [f"It gushed when one was opened {when}.", dateless]
    if peril.vented:
        return [f"Vented {when}. What may still ferment makes more gas where it is warm.", dateless]
    shows = "That shows nothing of what was kept cold: yeast sleeps there."
    if peril.warm_days >= 1.0:
        stood = f"{peril.warm_days:.0f} of {peril.proof_days:.0f} days"
        shows = f"It had stood warm for {stood}: too short to show anything."
    return [f"One was opened cold {when}, and was calm. {shows}", dateless]


def package_words(packaging: Packaging, *, perilous: bool = False) -> str:
    """Its kind and what it is to hold; of beer that may burst it, what that may come to."""
    kind = PACKAGES.get(packaging.kind)
    name = kind.name if kind is not None else packaging.kind or "package"
    holds = "" if packaging.volumes is None else f"{packaging.volumes:g} volumes"
    return ", ".join(part for part in (name, too_early.may_hold(packaging) if perilous else holds) if part)


def held_words(one: InPackage) -> str:
    return package_words(one.packaging, perilous=one.conditioning.peril is not None)


def too_early_words(one: InPackage, voice: Voice) -> list[str]:
    """That it may burst or was packaged against the verdict, and what to do; what a standing alarm says it says."""
    known, packaging = one.conditioning, one.packaging
    early = too_early.is_so(packaging)
    if not early and known.peril is None:
        return []
    told = {alarm.rule for alarm in one.alarms if alarm.stands} & {too_early.RULE, too_early.GUSHED}
    said = []
    if early and too_early.RULE not in told:
        said.append(f"{too_early.statement(packaging, one.batch.name)}.")
    if early and known.shown_at is None:
        said.append(too_early.as_judged(packaging))
    if not told:
        said.append(too_early.remedy(known, one.batch.name))
    return [voice.text(text, LONGEST) for text in said if text]


def line(one: InPackage, now: datetime, voice: Voice) -> str:
    """The whole of it in one line."""
    day = day_number(one.packaging, now, voice)
    parts = [
        voice.text(one.batch.name, 24),
        _warned(one),
        f"day {day}" if day > 0 else day_words(one.packaging, now, voice),
        next_words(one.conditioning, now, voice),
        stands_words(one.conditioning, now, voice),
    ]
    return voice.dot.join(part for part in parts if part)


def _warned(one: InPackage) -> str:
    """What is so before all else, in few words."""
    if one.conditioning.peril is not None:
        return "may be too full" if one.packaging.in_keg else "may burst"
    return f"not safe when {'kegged' if one.packaging.in_keg else 'bottled'}" if too_early.is_so(one.packaging) else ""


def rows(one: InPackage, now: datetime, voice: Voice) -> list[tuple[str, str]]:
    """The same as labelled rows."""
    day, stands = day_words(one.packaging, now, voice), stands_words(one.conditioning, now, voice)
    cautions = _labelled("be careful", too_early_words(one, voice))
    dates = _labelled("dates", dates_words(one, now, voice))
    return [*cautions, ("packaged", f"{day}, {stands} ({held_words(one)})"), *dates]


def _labelled(label: str, sentences: Sequence[str]) -> list[tuple[str, str]]:
    """The first of them under its label."""
    return [("" if place else label, text) for place, text in enumerate(sentences)]
