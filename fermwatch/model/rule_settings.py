"""The rules' defaults, each settable for a fermenter or a batch. The figures are common practice."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

MOST = 10_000.0


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


def unknown_setting(said: Mapping[str, float]) -> str:
    """The first name that is no setting, or whose number cannot be meant; empty where all can."""
    known = {one.name for one in fields(RuleSettings)}
    return next((name for name, value in said.items() if name not in known or not _can_be_meant(name, value)), "")


def _can_be_meant(name: str, value: float) -> bool:
    """Only temperatures may be below zero."""
    return math.isfinite(value) and abs(value) <= MOST and (value >= 0 or name.endswith("_c"))


def for_batch(settings: RuleSettings, said: Mapping[str, float]) -> RuleSettings:
    """The fermenter's settings with a batch's own over them."""
    return replace(settings, **dict(said))
