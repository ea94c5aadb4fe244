"""A thermostat for a lagging plant: it goes by where the beer will be, and so stops early. Pure.

Litres of beer follow their air by half a day, and a cold plate goes on cooling after its compressor stopped. So what
counts is the beer in an hour and a half, if it goes on as it did lately: a compressor stops when that has come to the
target. A probe in the fridge's air keeps that within bounds. What it wishes passes the guard like any other wish.

The times and gains were tuned on the thermal model of the simulator, over 5 to 60 L, insulated or not, warm and cold
rooms. There, an air that is sent by the beer's error held it no better, and started the compressor twice as often. The
bounds of the air are common practice.
"""

from dataclasses import dataclass, replace

from fermwatch.model.degree import Output

AHEAD_S = 5400.0  # how far ahead the beer is seen by its own course
BAND_C = 0.2  # of that, above the target, where it is cooled
URGENT_C = 0.3  # of the beer itself: then a cycle need not be over
CYCLE_S = 7200.0  # from one start to the next, while the beer is where it should be
AIR_BELOW_C, AIR_LEAST_C = 8.0, -1.0  # of the target; so that nothing freezes at the wall
AIR_ABOVE_C = 10.0  # of the target: warmer air is not warmed further
HOT_C = 0.3  # of the beer above its target: from there the air may be as cold as the least
NEUTRAL_C = 0.3  # on both sides: between heat and cool nothing is on
COLD_C = 1.0  # of the beer below its target: then the belt is on all the time
BELT_GAIN = 0.5  # of its power per kelvin
BELT_INTEGRAL_S = 6.0 * 3600.0
BELT_LEAST = 0.05  # of its power: less is not worth a click
BELT_PERIOD_S = 600.0
LONGEST_GAP_S = 120.0  # between two looks, that counts


@dataclass(frozen=True, slots=True)
class Felt:
    """What is known now. air_c: None without a probe there. on: what is on. now_s: of a clock that is never set."""

    target_c: float
    beer_c: float
    air_c: float | None
    on: frozenset[Output]
    now_s: float


@dataclass(frozen=True, slots=True)
class Thermostat:
    """What it remembers. slow_c: the beer as it was of late, on an average. belt: the share of its power that just
    holds the beer. started_s: the last start of the compressor. target_c: of the last look.
    """

    slow_c: float | None = None
    belt: float = 0.0
    started_s: float | None = None
    last_s: float | None = None
    target_c: float | None = None


def wish(before: Thermostat, felt: Felt) -> tuple[Thermostat, frozenset[Output]]:
    """What it remembers from now on, and what it would have on."""
    after = _remembered(before, felt)
    ahead_c = 2.0 * felt.beer_c - (felt.beer_c if after.slow_c is None else after.slow_c)
    if _cools(after, felt, ahead_c):
        started = after if Output.COOL in felt.on else replace(after, started_s=felt.now_s)
        return started, frozenset({Output.COOL})
    return after, frozenset({Output.HEAT}) if _heats(after, felt, ahead_c) else frozenset()


def _remembered(before: Thermostat, felt: Felt) -> Thermostat:
    """With the time that went by. What holds the beer is learned near its target alone: the way there is no error."""
    error_k = felt.target_c - felt.beer_c
    dt_s = 0.0 if before.last_s is None else min(max(felt.now_s - before.last_s, 0.0), LONGEST_GAP_S)
    belt = before.belt if before.target_c == felt.target_c else 0.0
    if abs(error_k) < COLD_C:
        belt = min(max(belt + BELT_GAIN * error_k * dt_s / BELT_INTEGRAL_S, 0.0), 1.0)
    slow_c = felt.beer_c if before.slow_c is None else before.slow_c
    slow_c += (felt.beer_c - slow_c) * dt_s / AHEAD_S
    return replace(before, slow_c=slow_c, belt=belt, last_s=felt.now_s, target_c=felt.target_c)


def _cools(after: Thermostat, felt: Felt, ahead_c: float) -> bool:
    over_c = ahead_c - felt.target_c
    if felt.air_c is not None and felt.air_c <= coldest_air_c(felt):
        return False
    if Output.COOL in felt.on:
        return over_c > 0.0
    urgent = felt.beer_c - felt.target_c > URGENT_C
    due = after.started_s is None or felt.now_s - after.started_s >= CYCLE_S or urgent
    return due and over_c > BAND_C


def coldest_air_c(felt: Felt) -> float:
    """Below that the air is not cooled further."""
    if felt.beer_c - felt.target_c > HOT_C:
        return AIR_LEAST_C
    return max(felt.target_c - AIR_BELOW_C, AIR_LEAST_C)


def _heats(after: Thermostat, felt: Felt, ahead_c: float) -> bool:
    """For a share of each period: as much as holds the beer, and more the further it is below."""
    too_warm = felt.air_c is not None and felt.air_c >= felt.target_c + AIR_ABOVE_C
    if ahead_c > felt.target_c + NEUTRAL_C or Output.COOL in felt.on or too_warm:
        return False
    if felt.beer_c < felt.target_c - COLD_C:
        return True
    share = min(max(BELT_GAIN * (felt.target_c - ahead_c) + after.belt, 0.0), 1.0)
    return share >= BELT_LEAST and felt.now_s % BELT_PERIOD_S < share * BELT_PERIOD_S
