"""The rules' defaults, each settable for a fermenter or a batch. The figures are common practice."""

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

GREATEST = 100_000.0  # hours, days, degrees: beyond that no setting can be meant


@dataclass(frozen=True, slots=True)
class RuleSettings:
    """Each name says its unit."""

    outside_warning_c: float = 0.5  # 1-h median beyond the yeast's range
    outside_clears_c: float = 0.2
    outside_warning_h: float = 2.0
    outside_clears_min: float = 120.0  # so that one slow wander about the edge is one alarm
    outside_critical_c: float = 2.0  # 15-min median
    outside_critical_min: float = 15.0
    settling_h: float = 12.0  # after pitching, while it moves toward the range
    leaving_within_h: float = 4.0
    away_from_set_point_c: float = 1.0
    away_from_set_point_h: float = 3.0
    compressor_starts_per_h: float = 4.0
    near_freezing_c: float = 1.0
    freezing_c: float = -1.0
    rising_points_per_day: float = 1.0
    drift_points_per_day: float = 0.4
    conditioning_days: float = 0.0  # to the first bottle; 0: by the kind of beer, and where it stands
    best_within_days: float = 0.0  # of packaging; 0: by the kind of beer, and where it stands


DEFAULTS = RuleSettings()


@dataclass(frozen=True, slots=True)
class WrongSetting:
    """name: as it was said. why: one sentence with its remedy, to follow the place."""

    name: str
    why: str


def wrong_setting(said: Mapping[str, float]) -> WrongSetting | None:
    """The first that is no setting, or whose number cannot be meant: for files, commands and requests alike."""
    known = [one.name for one in fields(RuleSettings)]
    for name, number in said.items():
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1, cutoff=0.4)
            remedy = f"did you mean {near[0]}?" if near else f"there are {', '.join(known)}."
            return WrongSetting(name, f"no such setting; {remedy}")
        least = -GREATEST if name.endswith("_c") else 0.0  # only temperatures may be below zero
        if not (math.isfinite(number) and least <= number <= GREATEST):
            return WrongSetting(name, f"{number:g} cannot be meant; it lies from {least:,.0f} to {GREATEST:,.0f}.")
    return None


def for_batch(settings: RuleSettings, said: Mapping[str, float]) -> RuleSettings:
    """The fermenter's settings with a batch's own over them."""
    return replace(settings, **dict(said))
