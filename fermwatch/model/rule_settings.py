"""The rules' defaults, each settable for a fermenter or a batch. The figures are common practice."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RuleSettings:
    """Each name says its unit."""

    outside_warning_c: float = 0.5  # 1-h median beyond the yeast's range
    outside_clears_c: float = 0.2
    outside_warning_h: float = 2.0
    outside_clears_min: float = 15.0
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
    conditioning_low_c: float = 18.0
    conditioning_high_c: float = 26.0
    conditioning_days: float = 14.0
    best_within_days: float = 120.0


DEFAULTS = RuleSettings()
