"""A thermostat for a lagging plant: it sends the air further the further the beer is off, and stops early. Pure.

Litres of beer follow their air by half a day, and a cold plate goes on cooling after its compressor stopped. So the
beer's error, as it will be in an hour and a half, asks for a temperature of the air (proportional and integral, within
bounds), and the compressor follows the air, stopping early by as much as it went on falling after the last stops.
Without a probe in the air the compressor goes by the beer as it will be then. What it wishes passes the guard like any
other wish.

Gains and times were tuned on the thermal model of the simulator, over 5 to 60 L, insulated or not, warm and cold rooms;
the bounds of the air are common practice.
"""

from dataclasses import dataclass, replace

from fermwatch.contracts.controller import Output

AIR_BELOW_C, AIR_ABOVE_C, AIR_LEAST_C = 8.0, 10.0, -1.0  # of the set point; so that nothing freezes at the wall
HOT_C = 0.2  # of the beer above its target: from there the air may be colder than that, down to the least
HOT_GAIN = 20.0
GAIN = 8.0  # kelvin of air per kelvin of beer
INTEGRAL_S = 6.0 * 3600.0
INTEGRAL_WITHIN_C = 0.8  # of the beer: further off it is on its way, and the way is no error
MOST_INTEGRAL_K = 14.0
AIR_BAND_C = 1.2  # of the air, on both sides
CYCLE_S = 7200.0  # from one start to the next, while the beer is where it should be
URGENT_C = 0.3  # of the beer: then it does not wait for that
NEUTRAL_C = 0.3  # on both sides: between heat and cool nothing is on
BELT_SPAN_K = 15.0  # of air that a belt is worth, full on
BELT_PERIOD_S = 600.0
AHEAD_S = 5400.0  # how far ahead the beer is seen by its own course, without a probe in the air
AHEAD_BAND_C = 0.2
COAST_SHARE = 0.3  # of what the last stop taught that is believed
MOST_COAST_C = 4.0
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
    """What it remembers. integral_k: of air. slow_c: the beer as it was about an hour ago, on an average.

    coast_c: how far the air goes on falling after a stop. stopped_c, lowest_c: the air at the last stop, and the lowest
    since; None while it runs. started_s: the last start. target_c: of the last look, as the integral belongs to it.
    """

    integral_k: float = 0.0
    slow_c: float | None = None
    coast_c: float = 0.0
    stopped_c: float | None = None
    lowest_c: float | None = None
    started_s: float | None = None
    last_s: float | None = None
    target_c: float | None = None
    cooling: bool = False


def wish(before: Thermostat, felt: Felt) -> tuple[Thermostat, frozenset[Output]]:
    """What it remembers from now on, and what it would have on."""
    after = _coasted(_counted(before, felt), felt)
    cools = _cools_by_beer(after, felt) if felt.air_c is None else _cools_by_air(after, felt, felt.air_c)
    if cools:
        started = after if Output.COOL in felt.on else replace(after, started_s=felt.now_s)
        return started, frozenset({Output.COOL})
    return after, frozenset({Output.HEAT}) if _heats(after, felt) else frozenset()


def aim_of_air_c(thermostat: Thermostat, felt: Felt) -> float:
    """Where the air should be for the beer to come to its target."""
    low_c, high_c = _bounds_c(felt)
    return min(max(_wanted_c(thermostat.integral_k, _ahead_c(thermostat, felt), felt), low_c), high_c)


def _wanted_c(integral_k: float, beer_c: float, felt: Felt) -> float:
    return felt.target_c + GAIN * (felt.target_c - beer_c) + integral_k


def _bounds_c(felt: Felt) -> tuple[float, float]:
    hot_k = max(felt.beer_c - felt.target_c - HOT_C, 0.0)
    return max(felt.target_c - AIR_BELOW_C - HOT_GAIN * hot_k, AIR_LEAST_C), felt.target_c + AIR_ABOVE_C


def _counted(before: Thermostat, felt: Felt) -> Thermostat:
    """With the time that went by; the integral stands still where the air can go no further, and begins anew at a new
    target."""
    moved = before.target_c is not None and abs(before.target_c - felt.target_c) > 1.0
    integral_k = 0.0 if moved else before.integral_k
    error_k = felt.target_c - felt.beer_c
    dt_s = 0.0 if before.last_s is None else min(max(felt.now_s - before.last_s, 0.0), LONGEST_GAP_S)
    low_c, high_c = _bounds_c(felt)
    free = low_c < _wanted_c(integral_k, _ahead_c(before, felt), felt) < high_c and abs(error_k) < INTEGRAL_WITHIN_C
    if free or (error_k > 0.0) is not (integral_k > 0.0):
        integral_k += GAIN * error_k * dt_s / INTEGRAL_S
    slow_c = felt.beer_c if before.slow_c is None else before.slow_c
    return replace(
        before,
        integral_k=min(max(integral_k, -MOST_INTEGRAL_K), MOST_INTEGRAL_K),
        slow_c=slow_c + (felt.beer_c - slow_c) * dt_s / AHEAD_S,
        last_s=felt.now_s,
        target_c=felt.target_c,
    )


def _coasted(before: Thermostat, felt: Felt) -> Thermostat:
    """With what the last stop taught: how far the air went on falling."""
    running, air_c = Output.COOL in felt.on, felt.air_c
    if before.cooling and not running:
        return replace(before, cooling=False, stopped_c=air_c, lowest_c=air_c)
    if running and not before.cooling:
        learned = before
        if before.stopped_c is not None and before.lowest_c is not None:
            seen_c = min(before.stopped_c - before.lowest_c, MOST_COAST_C)
            learned = replace(before, coast_c=before.coast_c + COAST_SHARE * (seen_c - before.coast_c))
        return replace(learned, cooling=True, stopped_c=None, lowest_c=None)
    if before.lowest_c is not None and air_c is not None:
        return replace(before, lowest_c=min(before.lowest_c, air_c))
    return before


def _cools_by_air(after: Thermostat, felt: Felt, air_c: float) -> bool:
    aim_c, over_c = aim_of_air_c(after, felt), felt.beer_c - felt.target_c
    if Output.COOL in felt.on:
        return air_c - after.coast_c > aim_c - AIR_BAND_C
    return _cycle_is_over(after, felt) and air_c > aim_c + AIR_BAND_C and over_c > -NEUTRAL_C


def _cools_by_beer(after: Thermostat, felt: Felt) -> bool:
    over_c = _ahead_c(after, felt) - felt.target_c
    if Output.COOL in felt.on:
        return over_c > 0.0
    return _cycle_is_over(after, felt) and over_c > AHEAD_BAND_C


def _ahead_c(after: Thermostat, felt: Felt) -> float:
    """Where the beer will be if it goes on as it did."""
    return 2.0 * felt.beer_c - (felt.beer_c if after.slow_c is None else after.slow_c)


def _cycle_is_over(after: Thermostat, felt: Felt) -> bool:
    urgent = felt.beer_c - felt.target_c > URGENT_C
    return after.started_s is None or felt.now_s - after.started_s >= CYCLE_S or urgent


def _heats(after: Thermostat, felt: Felt) -> bool:
    """For a share of each period: as much as the air lacks, or else the beer."""
    if _ahead_c(after, felt) > felt.target_c + NEUTRAL_C or Output.COOL in felt.on:
        return False
    lacking_k = aim_of_air_c(after, felt) - (felt.target_c if felt.air_c is None else felt.air_c)
    share = min(max(lacking_k / BELT_SPAN_K, 0.0), 1.0)
    return share >= 0.05 and felt.now_s % BELT_PERIOD_S < share * BELT_PERIOD_S
