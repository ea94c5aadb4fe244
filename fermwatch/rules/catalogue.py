"""Every rule in one place: how long it must hold, when it may speak, and where its findings come from."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from functools import lru_cache

from fermwatch.model.finding import Finding, Timing
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.rules import asking, gravity, instruments, packaged, temperature, unjudged
from fermwatch.rules.situation import Situation

Evaluate = Callable[[Situation, RuleSettings], Iterable[Finding]]

EVALUATIONS: tuple[Evaluate, ...] = (
    temperature.outside_range,
    temperature.leaving_range,
    temperature.off_set_point,
    temperature.cycling,
    temperature.near_freezing,
    asking.looks_meant,
    gravity.phases,
    gravity.trend_findings,
    gravity.implausible,
    gravity.reading_due,
    instruments.silence,
    instruments.faults,
    instruments.beer_probe,
)
IN_PACKAGE: tuple[Evaluate, ...] = (packaged.packaged,)  # of a beer that has left its fermenter
BOTTLE_STORE: tuple[Evaluate, ...] = (instruments.silence, instruments.faults)


IMMEDIATE = Timing()


class Speaks(StrEnum):
    """When a rule may call somebody. Critical findings always may, at any hour."""

    ANY_HOUR = "at any hour"
    MORNING = "after 07:00"
    DIGEST = "in the daily digest at 08:00"


@dataclass(frozen=True, slots=True)
class Rule:
    name: str
    title: str
    timing: Timing = IMMEDIATE
    speaks: Speaks = Speaks.MORNING


def _hours(number: float) -> timedelta:
    return timedelta(hours=number)


def _minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


@lru_cache(maxsize=64)
def rules(settings: RuleSettings) -> dict[str, Rule]:
    """The catalogue under these settings, by name."""
    outside = Timing(
        _hours(settings.outside_warning_h),
        _minutes(settings.outside_clears_min),
        _minutes(settings.outside_critical_min),
    )
    steady = Timing(_minutes(30), _hours(1))
    listed = (
        Rule(temperature.HIGH, "hotter than the yeast's range", outside),
        Rule(temperature.LOW, "colder than the yeast's range", outside),
        Rule(temperature.LEAVING, "about to leave the yeast's range", steady),
        Rule(asking.LOOKS_LIKE_REST, "is it a diacetyl rest?", Timing(_hours(1), _hours(6))),
        Rule(asking.LOOKS_LIKE_CRASH, "is it a cold crash?", Timing(_hours(2), _hours(6))),
        Rule(temperature.AWAY, "away from its set point", Timing(_hours(settings.away_from_set_point_h), _minutes(30))),
        Rule(temperature.CYCLING, "compressor starts too often", steady, Speaks.DIGEST),
        Rule(temperature.NEAR_FREEZING, "near freezing", Timing(_minutes(10), _minutes(30)), Speaks.ANY_HOUR),
        Rule(gravity.SLOW_START, "no signs of life"),
        Rule(gravity.STALLED, "stalled", speaks=Speaks.DIGEST),
        Rule(gravity.RESTARTED, "restarted after it was steady", speaks=Speaks.DIGEST),
        Rule(gravity.RISING, "gravity rises", Timing(_hours(6), _hours(6)), Speaks.DIGEST),
        Rule(gravity.IMPLAUSIBLE, "implausible gravity", Timing(_hours(1), _hours(1)), Speaks.DIGEST),
        Rule(gravity.ABOVE_RANGE, "attenuation above the yeast's range", Timing(_hours(12), _hours(12))),
        Rule(gravity.DRIFTING, "gravity probe drifts", Timing(_hours(12), _hours(12)), Speaks.DIGEST),
        Rule(gravity.READING_DUE, "a hydrometer reading is due", Timing(_hours(6)), Speaks.DIGEST),
        Rule(instruments.SILENT, "probe silent"),
        Rule(instruments.FAULT, "probe makes no sense", Timing(_minutes(5), _minutes(5))),
        Rule(instruments.STUCK, "probe stuck", IMMEDIATE, Speaks.DIGEST),
        Rule(instruments.NOISY, "probe noisy", Timing(_hours(1), _hours(1)), Speaks.DIGEST),
        Rule(instruments.SOURCE_LOST, "source of readings lost", Timing(_minutes(1), _minutes(0))),
        Rule(unjudged.NOT_JUDGED, "not judged"),
        Rule(packaged.CONDITIONING, "too cold to condition as usual", Timing(_hours(6), _hours(2)), Speaks.DIGEST),
        Rule(packaged.STORE_HOT, "bottle store too hot", Timing(_hours(1), _hours(1)), Speaks.ANY_HOUR),
        Rule(packaged.SQUEEZE, "squeeze the PET bottle", speaks=Speaks.DIGEST),
        Rule(packaged.READY, "ready to drink", speaks=Speaks.DIGEST),
        Rule(packaged.PAST_BEST, "past its best", speaks=Speaks.DIGEST),
    )
    return {rule.name: rule for rule in listed}
