"""Every rule in one place: how long it must hold, when it may speak, and where its findings come from."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache

from fermwatch.brewing import too_early
from fermwatch.model.finding import Finding, Timing
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.telling import Speaks
from fermwatch.rules import (
    asking,
    controlled,
    effect,
    gravity,
    instruments,
    managing,
    notifying,
    packaged,
    planned,
    temperature,
    unjudged,
    unwatched,
)
from fermwatch.rules.situation import Situation

Evaluate = Callable[[Situation, RuleSettings], Iterable[Finding]]

EVALUATIONS: tuple[Evaluate, ...] = (
    temperature.outside_range,
    temperature.leaving_range,
    managing.without_effect,
    managing.off_set_point,
    managing.cycling,
    managing.fighting,
    temperature.near_freezing,
    asking.looks_meant,
    planned.planned,
    gravity.phases,
    gravity.trend_findings,
    gravity.implausible,
    gravity.reading_due,
    gravity.withdrawn,
    instruments.silence,
    instruments.faults,
    instruments.beer_probe,
)
IN_PACKAGE: tuple[Evaluate, ...] = (packaged.packaged,)  # of a beer that has left its fermenter
BOTTLE_STORE: tuple[Evaluate, ...] = (instruments.silence, instruments.faults)


IMMEDIATE = Timing()


@dataclass(frozen=True, slots=True)
class Rule:
    name: str
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
        Rule(temperature.HIGH, outside),
        Rule(temperature.LOW, outside),
        Rule(temperature.LEAVING, steady),
        Rule(asking.LOOKS_LIKE_REST, Timing(_hours(1), _hours(6))),
        Rule(asking.LOOKS_LIKE_CRASH, Timing(_hours(2), _hours(6))),
        Rule(planned.SET_BY_HAND, Timing(_minutes(15))),
        Rule(planned.WAITS, speaks=Speaks.DIGEST),
        Rule(controlled.NOT_WRITTEN, Timing(_minutes(2))),
        Rule(effect.NO_EFFECT, Timing(_minutes(10), _minutes(15)), Speaks.ANY_HOUR),
        Rule(managing.AWAY, Timing(_hours(settings.away_from_set_point_h), _minutes(30))),
        Rule(managing.CYCLING, steady, Speaks.DIGEST),
        Rule(managing.FIGHTING, Timing(_minutes(10), _hours(1))),
        Rule(temperature.NEAR_FREEZING, Timing(_minutes(10), _minutes(30)), Speaks.ANY_HOUR),
        Rule(gravity.SLOW_START),
        Rule(gravity.STALLED, speaks=Speaks.DIGEST),
        Rule(gravity.RESTARTED, speaks=Speaks.DIGEST),
        Rule(gravity.RISING, Timing(_hours(6), _hours(6)), Speaks.DIGEST),
        Rule(gravity.IMPLAUSIBLE, Timing(_hours(1), _hours(1)), Speaks.DIGEST),
        Rule(gravity.ABOVE_RANGE, Timing(_hours(12), _hours(12))),
        Rule(gravity.DRIFTING, Timing(_hours(12), _hours(12)), Speaks.DIGEST),
        Rule(gravity.READING_DUE, Timing(_hours(6)), Speaks.DIGEST),
        Rule(gravity.WITHDRAWN),
        Rule(instruments.SILENT),
        Rule(instruments.FAULT, Timing(_minutes(5), _minutes(5))),
        Rule(instruments.STUCK, IMMEDIATE, Speaks.DIGEST),
        Rule(instruments.NOISY, Timing(_hours(1), _hours(1)), Speaks.DIGEST),
        Rule(instruments.SOURCE_LOST, Timing(_minutes(1), _minutes(0))),
        Rule(unwatched.UNWATCHED),
        Rule(notifying.CANNOT_NOTIFY, Timing(_minutes(5))),
        Rule(unjudged.NOT_JUDGED),
        Rule(too_early.RULE),
        Rule(too_early.GUSHED),
        Rule(packaged.CONDITIONING, Timing(_hours(6), _hours(2)), Speaks.DIGEST),
        Rule(packaged.STORE_HOT, Timing(_hours(1), _hours(1)), Speaks.ANY_HOUR),
        Rule(packaged.SQUEEZE, speaks=Speaks.DIGEST),
        Rule(packaged.READY, speaks=Speaks.DIGEST),
        Rule(packaged.PAST_BEST, speaks=Speaks.DIGEST),
    )
    return {rule.name: rule for rule in listed}
