"""Whether what is switched has an effect, and what it looks like where it has none: an open door, a compressor that
does not cool, ice, a belt that does not warm. Told apart by the air in the fridge where a probe hangs there. Pure.

The figures are common practice, tried on the thermal model of the simulator; no real fridge was at hand.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.model.amounts import instant, temperature, warmth
from fermwatch.model.degree import Output
from fermwatch.rules.situation import WINDOW, GoodReading, Situation, median_of, since, slope_c_per_h

NO_EFFECT = "without-effect"

LOOKS = timedelta(minutes=45)  # of an output that is on: then there is an effect, where the air or a belt shows it
BY_BEER_ALONE = timedelta(hours=3)  # litres of beer follow their air that slowly
SILENT_AFTER = timedelta(minutes=15)  # what an output was before that says nothing of now
ON, STILL_ON = 0.9, 0.5  # share of the time, for what is found and for what is found already
COLD_AIR_C = 4.0  # air as cold as that was cooled
BELOW_BEER_C = 3.0  # and so was air that much colder than the beer
FALLING_C_PER_H, RISING_C_PER_H = -1.0, 0.3  # of the air
BEER_FALLS_C_PER_H = -0.1
LITTLE_C = 0.3  # of a target
BELT_RISE_C = 0.2
LIKE_AIR_C = 1.0  # beer and air: what is heated is warmer than its air
QUARTER, HOUR = timedelta(minutes=15), timedelta(hours=1)
JUMP_C = 2.0  # of the air within a quarter of an hour: so does a door that is opened


@dataclass(frozen=True, slots=True)
class OutputRun:
    """An output was on, from one instant to another."""

    began: datetime
    ended: datetime


@dataclass(frozen=True, slots=True)
class Suspect:
    """What an output that has no effect looks like. statement, remedy: as an alarm has them, without their ends."""

    output: Output
    statement: str
    remedy: str


def runs_of(samples: tuple[GoodReading, ...], now: datetime) -> list[OutputRun]:
    """When it was on: as it was said last, it went on."""
    found: list[OutputRun] = []
    began: datetime | None = None
    for sample in samples:
        if sample.value >= 0.5 and began is None:
            began = sample.at
        elif sample.value < 0.5 and began is not None:
            found.append(OutputRun(began, sample.at))
            began = None
    return [*found, OutputRun(began, now)] if began is not None else found


def on_share(samples: tuple[GoodReading, ...], now: datetime, span: timedelta) -> float | None:
    """For which share of the last `span` it was on; None where it was not heard for so long, or not lately."""
    known = samples and samples[0].at <= now - span and now - samples[-1].at <= SILENT_AFTER
    if not known:
        return None
    began = now - span
    on = sum((one.ended - max(one.began, began) for one in runs_of(samples, now) if one.ended > began), timedelta())
    return on / span


def suspect(situation: Situation, *, standing: bool = False) -> Suspect | None:
    """What is on and has no effect; None where there is one, where nothing is on, or where nothing shows it.

    standing: it was found before, and little may have changed.
    """
    share = STILL_ON if standing else ON
    return _cooling(situation, share) or _heating(situation, share)


def _cooling(situation: Situation, least: float) -> Suspect | None:
    if (on_share(situation.cool, situation.now, LOOKS) or 0.0) < least:
        return None
    since_when = _since(situation.cool, situation.now)
    here_c = median_of(situation.air, situation.now, QUARTER)
    slope = slope_c_per_h(since(situation.air, situation.now, LOOKS))
    if here_c is None or slope is None:
        return _cooling_by_beer(situation, least, since_when)
    rise_c = _jump_c(situation.air, situation.now, here_c)
    if rise_c is not None and slope > FALLING_C_PER_H:
        return Suspect(
            Output.COOL,
            f"the cooling runs without effect{since_when}: the air in the fridge rose by {warmth(rise_c)} within "
            f"minutes and stays at {temperature(here_c)}, as with an open door",
            "Close the door, and look whether its seal lies all around",
        )
    if _cools(situation, here_c, slope):
        return None
    if slope >= RISING_C_PER_H and _warms_by_itself(situation, here_c, slope):
        return Suspect(
            Output.COOL,
            f"the cooling is on without effect{since_when}: the air in the fridge warms by {warmth(slope)} an hour and "
            f"is at {temperature(here_c)}",
            "Listen whether the compressor runs, and look at the plug and the fridge's own thermostat. What is wired "
            "to the mains is for an electrician",
        )
    return Suspect(
        Output.COOL,
        f"the cooling is on without effect{since_when}: the air in the fridge stays at {temperature(here_c)}",
        "Look whether the door closes all around, then for ice on the cold plate. Thaw it off the mains, with its door "
        "open: no knife, and no heater",
    )


def _cools(situation: Situation, air_c: float, slope_c_h: float) -> bool:
    beer_c = median_of(situation.beer, situation.now, HOUR)
    beer_slope = slope_c_per_h(since(situation.beer, situation.now, BY_BEER_ALONE))
    below = beer_c is not None and beer_c - air_c >= BELOW_BEER_C
    falls = beer_slope is not None and beer_slope <= BEER_FALLS_C_PER_H
    return air_c <= COLD_AIR_C or slope_c_h <= FALLING_C_PER_H or below or falls


def _warms_by_itself(situation: Situation, air_c: float, slope_c_h: float) -> bool:
    """The room warms the air, and not only the beer in it: under a plate that is still cold it stays below that."""
    beer_c = median_of(situation.beer, situation.now, HOUR)
    beer_slope = slope_c_per_h(since(situation.beer, situation.now, BY_BEER_ALONE)) or 0.0
    return beer_c is None or air_c >= beer_c - LITTLE_C or slope_c_h - beer_slope >= RISING_C_PER_H


def _cooling_by_beer(situation: Situation, least: float, since_when: str) -> Suspect | None:
    """Without a probe in the air nothing tells a door from a compressor, or from too little of it."""
    share, beer_c = (
        on_share(situation.cool, situation.now, BY_BEER_ALONE),
        median_of(situation.beer, situation.now, HOUR),
    )
    slope = slope_c_per_h(since(situation.beer, situation.now, BY_BEER_ALONE))
    if beer_c is None or slope is None or (share or 0.0) < least or slope <= BEER_FALLS_C_PER_H / 2:
        return None
    if situation.aim_c is not None and beer_c <= situation.aim_c + LITTLE_C:
        return None
    return Suspect(
        Output.COOL,
        f"the cooling is on{since_when}, and the beer does not get colder: {temperature(beer_c)}, "
        f"{warmth(slope, signed=True)} an hour",
        "Look at the door first, then listen whether the compressor runs, then look for ice on the cold plate. A probe "
        "in the fridge's air would tell them apart",
    )


def _heating(situation: Situation, least: float) -> Suspect | None:
    if (on_share(situation.heat, situation.now, LOOKS) or 0.0) < least:
        return None
    recent = since(situation.beer, situation.now, LOOKS)
    beer_c = median_of(situation.beer, situation.now, QUARTER)
    if not recent or beer_c is None or beer_c - recent[0].value >= BELT_RISE_C:
        return None
    if situation.aim_c is not None and beer_c >= situation.aim_c - LITTLE_C:
        return None
    since_when, air_c = _since(situation.heat, situation.now), median_of(situation.air, situation.now, QUARTER)
    said = f"the heat is on without effect{since_when}: beer {temperature(beer_c)}"
    if air_c is not None and abs(air_c - beer_c) < LIKE_AIR_C:
        return Suspect(
            Output.HEAT,
            f"{said}, the air {temperature(air_c)}",
            "Look at once whether the beer's probe fell out of its well: what is heated is warmer than its air",
        )
    return Suspect(
        Output.HEAT,
        said,
        "Look at once whether the beer's probe is in its well; then at the belt and its plug. It may be too weak for "
        "this room",
    )


def _jump_c(air: tuple[GoodReading, ...], now: datetime, here_c: float) -> float | None:
    """By how much the air rose within a quarter of an hour, to where it was not shortly before, and from where it did
    not come back by half; None where it did not.

    A fridge's own swing comes back to where it was within the hour.
    """
    recent = since(air, now, WINDOW)
    greatest: float | None = None
    for number, after in enumerate(recent):
        before = [one.value for one in recent[:number] if after.at - one.at <= QUARTER]
        earlier = [one.value for one in recent[:number] if QUARTER < after.at - one.at <= QUARTER + HOUR / 2]
        if not before or not earlier:
            continue
        rise_c = after.value - min(before)
        news = after.value >= max(earlier) + JUMP_C / 2
        stays = here_c >= min(before) + rise_c / 2
        if rise_c >= JUMP_C and news and stays:
            greatest = max(rise_c, greatest or 0.0)
    return greatest


def _since(samples: tuple[GoodReading, ...], now: datetime) -> str:
    """since 14:20: when it was switched on; empty where that lies beyond what is remembered."""
    last = next(reversed(runs_of(samples, now)), None)
    known = last is not None and samples and last.began > samples[0].at
    return f" since {instant(last.began)}" if last is not None and known else ""
