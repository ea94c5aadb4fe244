"""What there is to say of a beer in its bottles or keg: its day, where it stands, and the dates to come."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from fermwatch.brewing import too_early
from fermwatch.contracts.feed import InPackage
from fermwatch.model.conditioning import AT_ITS_BEST, OPEN_ANOTHER, PAST_ITS_BEST, Conditioning, Peril
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
    """at 19.4 °C; at 20 °C, as told."""
    if known.heard_at is not None:
        silent = "" if now - known.heard_at < STALE else f", last heard {words.moment(known.heard_at, now, voice)}"
        return f"at {voice.temperature(known.temperature_c)}{silent}"
    return f"at {voice.bare_temperature(known.temperature_c)} {voice.degree_unit}, as told"


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
    if peril.gushed:
        return "vent every cap, cold"
    return "keep cold, open one with care" if peril.opened_at is None else OPEN_ANOTHER


def dates_words(one: InPackage, now: datetime, voice: Voice) -> list[str]:
    """Every date in a sentence of its own; which of them are common practice is said once."""
    known = one.conditioning
    packaging = known.packaging
    if known.peril is not None:
        return _peril_words(one, known.peril, now, voice)
    said = []
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
    """Of beer that may burst its package: how the last was that was opened cold, and what is next."""
    said = []
    if peril.opened_at is not None:
        when = date_words(peril.opened_at, now, voice)
        how = "It gushed when one was opened" if peril.gushed else "Vented" if peril.vented else "One was opened cold"
        said.append(f"{how} {when}{'' if peril.gushed or peril.vented else ', and was calm'}.")
    if any(alarm.rule == too_early.OPEN_ONE and alarm.stands for alarm in one.alarms):
        return said
    todo = voice.text(too_early.next_words(one.packaging, peril, one.batch.name), LONGEST)
    return [*said, f"{todo.rstrip('.')}."]


def package_words(packaging: Packaging) -> str:
    kind = PACKAGES.get(packaging.kind)
    name = kind.name if kind is not None else packaging.kind or "package"
    return name if packaging.volumes is None else f"{name}, {packaging.volumes:g} volumes"


def too_early_words(one: InPackage, voice: Voice) -> list[str]:
    """That it was packaged against the verdict, and what to do; what a standing alarm says is said by that."""
    packaging = one.packaging
    if not too_early.is_so(packaging):
        return []
    judged = voice.text(too_early.as_judged(packaging), LONGEST)
    if any(alarm.rule == too_early.RULE and alarm.stands for alarm in one.alarms):
        return [judged] if judged else []
    statement = voice.text(too_early.statement(packaging, one.batch.name), LONGEST)
    said = (f"{statement}.", judged, voice.text(too_early.remedy(packaging, one.conditioning.peril), LONGEST))
    return [text for text in said if text]


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
    return [*cautions, ("packaged", f"{day}, {stands} ({package_words(one.packaging)})"), *dates]


def _labelled(label: str, sentences: Sequence[str]) -> list[tuple[str, str]]:
    """The first of them under its label."""
    return [("" if place else label, text) for place, text in enumerate(sentences)]
