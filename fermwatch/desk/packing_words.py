"""A packaging day in words: what goes into what, what will become of it, and what to mind. Quantities are marked."""

from collections.abc import Iterator

from fermwatch.brewing import too_early
from fermwatch.brewing.conditioning import conditioning_of
from fermwatch.desk.packaging import Day, against, odd, too_much, verdict_said
from fermwatch.desk.pressure_words import AIR, CHANCE, PAST_SIX, chance_words, held_words
from fermwatch.judgement.filling import BOTTLE_L, judged_at, of_bottles, packed
from fermwatch.model import amounts
from fermwatch.model.conditioning import Conditioning
from fermwatch.model.packaging import packaging_of
from fermwatch.model.warmest import ACCIDENT, Warmest
from fermwatch.saying import words
from fermwatch.saying.pitched import package_words
from fermwatch.saying.voice import Gallon, Voice
from fermwatch.science.carbonation import sugar_named
from fermwatch.science.packages import CAUTION
from fermwatch.science.solubility import VOLUMES_HIGH, VOLUMES_PER_POINT

LONG = 2000  # characters: a verdict with its reasons is no name
ROUNDED = 0.01  # volumes

GLASS = "Look at every bottle against the light, and leave out each that is chipped, scratched or unlike the others."
SYRUP = "Boil it in a little water and let it cool with a lid on: hot syrup sticks to skin and burns."
WEIGH = f"Weigh the sugar for the beer that is in the bucket. {SYRUP} Stir it in gently and wholly."
TELL_TALE = "Fill one PET bottle too: squeezed on days 3, 7 and 14, it tells of the others."
SQUEEZE = "Squeeze them on days 3, 7 and 14: they grow as hard as a full one from the shop."
VALVE = "Pull the relief valve once and see it close again; never block it."
US_BOTTLE_L = 0.355  # 12 fl oz
PRIMED_KEG = (
    f"Seal the lid with a little CO2, for the beer's own comes later. Weigh the sugar. {SYRUP} Stir it in gently."
)
FORCED_KEG = (
    "Fill it through the outlet, close it, and let CO2 in and out three times so that no air stays. Look for leaks "
    "with soapy water."
)


def told(day: Day, voice: Voice) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...], str]:
    """Rows, cautions, and what to do."""
    said = tuple((name, voice.text(value, LONG)) for name, value in rows(day, voice))
    return said, tuple(voice.text(text) for text in cautions(day)), voice.text(to_do(day), LONG)


def doubts(day: Day, voice: Voice) -> list[str]:
    """What stands against it, in the reader's units."""
    return [voice.text(one, LONG) for one in against(day)]


def label(day: Day, voice: Voice) -> str:
    """What to write on it: name, date, volumes, how to keep it and when to open it."""
    done, local = day.filling, voice.local(day.at)
    choice, filled = done.choice, "kegged" if day.is_keg else "bottled"
    parts = [day.batch.name, f"{choice.volumes:.2g} volumes", f"{filled} {local:%Y-%m-%d}"]
    if done.flat:
        parts[1:2] = ["flat"]
    if day.is_too_full:
        parts[1] = too_early.may_come_to(choice.volumes, day.left_points)
        parts.append("MAY BURST: keep it cold")
    elif done.set_bar is not None:
        parts.append(f"{amounts.pressure(done.set_bar, 2)} at {amounts.temperature(choice.storage_c, None)}")
    else:
        parts.append(f"store below {amounts.temperature(done.warmest.temperature_c, None)}")
        if not day.is_keg and not done.flat:
            parts += _dates(day, voice)
    return voice.dot.join(parts)


def _conditioning(day: Day) -> Conditioning | None:
    """How it will go, by the kind of beer and where it is to stand."""
    packaging = packaging_of((day.packaged(""),))
    if packaging is None:
        return None
    return conditioning_of(day.batch, packaging, day.events, day.at, day.settings, day.stood)


def _dates(day: Day, voice: Voice) -> list[str]:
    """open from 2026-03-15, best 2026-03-22 to 2026-06-29: by the kind of beer and where it is to stand."""
    known = _conditioning(day)
    if known is None or known.best_until is None:
        return []
    until = f"{voice.local(known.best_until):%Y-%m-%d}"
    if known.open_at is None or known.best_from is None:
        return [f"best until {until}, once it has conditioned"]
    opened, best = (f"{voice.local(at):%Y-%m-%d}" for at in (known.open_at, known.best_from))
    return [f"open from {opened}", f"best {best} to {until}"]


def rows(day: Day, voice: Voice) -> Iterator[tuple[str, str]]:
    done = day.filling
    yield "batch", f"{day.batch.name}, {words.beer_day(day.batch.pitched_at, day.at, voice)}"
    yield "kegging" if day.is_keg else "bottling", verdict_said(day)
    yield "package", package_words(day.batch, done.choice)
    yield "may ferment", left(day)
    if done.set_bar is not None:
        yield "set", set_to(day)
    else:
        yield "CO2 in it now", held(day)
        yield "sugar", sugar(day)
    yield "judged at", judged_at(done.warmest)
    yield "pressure", _pressure(day)
    yield "risk", risk(day, voice)
    if day.bottles is not None:
        yield "bottles", f"{day.bottles}, {amounts.volume(day.volume_l / day.bottles, 2)} each"
    yield "label", label(day, voice)


def risk(day: Day, voice: Voice) -> str:
    exceeds = "it exceeds" if day.is_keg else "a bottle exceeds"
    return f"chance that {exceeds} its limit: {chance_words(day.filling.risk)}{counted(day, voice)}"


def left(day: Day) -> str:
    """What the risk counts of the beer itself, and where that would bring it."""
    left, trend = day.left_points, day.judged.trend
    if left < 1.0:
        return f"less than {amounts.points(1.0, 0)} still"
    now_sg = day.batch.original_sg if trend is None else trend.measured_sg or trend.gravity_sg
    return f"about {amounts.points(left, 0)} still, to {amounts.gravity(now_sg - left / 1000.0)}"


def held(day: Day) -> str:
    """What it holds, and what its sugar is reckoned on where there is any."""
    held = day.filling.residual
    unsweetened = day.is_too_full and not day.dose_said
    said = f"{held.low:.2f} to {held.high:.2f} volumes" if unsweetened else held_words(held)
    return f"{said} ({day.origin})" if day.origin else said


def counted(day: Day, voice: Voice) -> str:
    """The chance as a number of the bottles that there are."""
    if day.is_keg:
        return ""
    usual_l = US_BOTTLE_L if voice.units.gallon is Gallon.US else BOTTLE_L
    bottles = round(day.volume_l / usual_l) if day.bottles is None else day.bottles
    return f", {of_bottles(day.filling.risk.chance_over_limit, bottles)}"


def over_limit(day: Day, voice: Voice) -> str:
    """about 1 bottle in 1600 over its limit; of a keg, whether it stays below."""
    if day.is_keg:
        return "within its limit" if not day.is_too_full else "over its limit"
    many = counted(day, voice).removeprefix(", ")
    return f"{many} over {'their' if many.endswith('s') else 'its'} limit"


def climbs(day: Day) -> str:
    """How hard it gets, in a row: 2.6 bar at 25 °C, where it will stand; 19 of 20 bottles below 3.1; limit 5.6 bar."""
    risk = day.filling.risk
    limit, at = amounts.pressure(risk.limit_bar), judged_at(day.filling.warmest)
    if risk.beyond_any:
        return f"beyond any package at {at}; its limit is {limit}"
    most = f"may pass {VOLUMES_HIGH:.0f} volumes" if risk.extrapolated else f"below {amounts.pressure(risk.high_bar)}"
    which = "very likely" if day.is_keg else "19 of 20 bottles"
    return f"about {amounts.pressure(risk.median_bar)} at {at}, {which} {most}; its limit is {limit}"


def set_to(day: Day) -> str:
    done = day.filling
    stands = amounts.temperature(done.choice.storage_c, None)
    if not done.set_bar:
        return f"no pressure: at {stands} the beer holds that much without"
    return (
        f"{amounts.pressure(done.set_bar, 2)} gauge with the beer at {stands}, "
        "for 7 to 14 days, sooner if it is rocked (common practice); no sugar"
    )


def sugar(day: Day) -> str:
    done = day.filling
    if day.is_too_full and not day.dose_said:
        none = f"none is recommended for {done.choice.volumes:.2g} volumes"
        fits = "with what may still ferment, none fits"
        return f"{none}: {fits if done.most is None else f'at most {done.most:.1f} volumes would do'}"
    if not done.flat:
        grams, volume = amounts.mass(done.sugar_g(day.volume_l)), amounts.volume(day.volume_l)
        return f"{grams} of {sugar_named(done.dose.sugar).name} for {volume} ({amounts.dose(done.dose.g_per_l)})"
    holds = f"{done.residual.low:.1f} to {done.residual.high:.1f} volumes"
    if done.choice.volumes < done.residual.middle - ROUNDED:
        return f"no sugar is needed: the beer already holds {holds}"
    return f"none: it stays flat, with the {holds} that it holds"


def _pressure(day: Day) -> str:
    risk, limit = day.filling.risk, amounts.pressure(day.filling.risk.limit_bar)
    if risk.beyond_any:
        return f"more than 6 volumes: beyond any package, and beyond what the formulas are good for; limit {limit}"
    stay = "95 % sure to stay" if day.is_keg else "95 % of bottles stay"
    middle, high = amounts.pressure(risk.median_bar), amounts.pressure(risk.high_bar)
    begins = f"{middle} in the middle" if day.filling.set_bar is None else "as set"
    if risk.extrapolated:
        return f"{begins}; the upper end {PAST_SIX}; limit {limit}"
    if day.filling.set_bar is not None:
        return f"{begins}; with what may still ferment {stay} below {high}, limit {limit}"
    return f"{begins}; {stay} below {high}, limit {limit}"


def to_do(day: Day) -> str:
    done = day.filling
    if day.is_too_full:
        return " ".join(part for part in (GLASS if day.kind.glass else "", _kept_safe(day)) if part)
    if done.set_bar is not None:
        return f"{FORCED_KEG} {VALVE}"
    if day.is_keg:
        return f"{PRIMED_KEG} {VALVE} {_warm_first(day)}"
    if done.flat:
        return GLASS if day.kind.glass else ""
    known = _conditioning(day)
    squeezed = "" if known is None or known.asleep else TELL_TALE if day.kind.glass else SQUEEZE
    parts = [GLASS if day.kind.glass else "", WEIGH, _warm_first(day), squeezed]
    return " ".join(part for part in parts if part)


def _kept_safe(day: Day) -> str:
    """What to do with it if it is filled all the same: the same as is said of it from then on."""
    known = _conditioning(day)
    return "" if known is None else too_early.remedy(known, day.batch.name)


def _warm_first(day: Day) -> str:
    """The days of the same reckoning as the dates on the label."""
    known, place_c = _conditioning(day), day.filling.conditioning_c
    if known is not None and known.measured:
        place_c = known.temperature_c
    place = amounts.temperature(round(place_c), None)
    if known is not None and known.asleep:
        usual = f"{amounts.temperature(round(known.reference_c), None)} for about {known.usual_days:.0f} days"
        return f"At {place} it would hardly condition: let it stand at {usual}, then cool it."
    days = None if known is None else known.days_to_open
    return f"Let it condition at {place}{'' if days is None else f' for about {days:.0f} days'}, then cool it."


def cautions(day: Day) -> Iterator[str]:
    if not day.is_safe:
        yield f"This is not declared safe to {day.verb}. Recorded all the same, it stays your own decision."
    if day.is_too_full:
        yield too_much(day)
    yield from odd(day)
    yield from of_package(day)


def of_package(day: Day) -> Iterator[str]:
    """What to mind of a package, whatever its beer."""
    done = day.filling
    if day.is_keg:
        if done.choice.limit_bar is None:
            least = amounts.pressure(done.risk.limit_bar)
            yield f"{least} is the least that kegs are rated for: say what is stamped on yours, with --limit-bar."
        if done.set_bar is not None:
            yield _should_it_warm(day)
        yield AIR
    elif day.kind.glass:
        yield CAUTION
        yield CHANCE
    else:
        yield CAUTION


def _should_it_warm(day: Day) -> str:
    choice = day.filling.choice
    hot = packed(choice, Warmest(choice.accident_c, ACCIDENT), atmosphere_bar=day.filling.air_bar)
    left = day.left_points
    volumes = choice.volumes + (left if left >= 1.0 else 0.0) * VOLUMES_PER_POINT
    at, climbs = amounts.temperature(choice.accident_c, None), f"to {amounts.pressure(hot.pressure_bar_gauge(volumes))}"
    if volumes > VOLUMES_HIGH:
        climbs = "beyond what any keg holds"
    if left >= 1.0:
        return (
            f"Should it once warm to {at}, about {amounts.points(left, 0)} ferment on in it, and its pressure climbs "
            f"{climbs}: keep it cold, and the relief valve free to open; or let it ferment out first."
        )
    return f"Should it once warm to {at}, its pressure climbs {climbs}: the relief valve must be free to open."
