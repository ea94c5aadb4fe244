"""One bin further with the filter: readings of the probe and by hand, and what was done to the beer."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fermwatch.brewing.attenuation import added_points
from fermwatch.judgement import kalman
from fermwatch.judgement.contradiction import contradict
from fermwatch.judgement.facts import Facts, Happening
from fermwatch.judgement.kalman import GRAVITY, RATE, Estimate
from fermwatch.judgement.preprocess import Bin
from fermwatch.judgement.probe_offset import ProbeOffset
from fermwatch.judgement.settings import BIN_H, JudgeSettings
from fermwatch.judgement.stillness import HandReading
from fermwatch.model.batch import EventKind

GASSY_SD = 2.5  # of a hydrometer in beer with gas in it, points (common practice: bubbles lift it by 1 to 4)
DIFFERENCE_SD = 0.7  # of refractometer readings among themselves, points: 0.1 °Bx late on, or two drops of beer

SAME = 1.5  # points: two hydrometer readings of beer that stands

# How much less is known after an event: standard deviations of the jump in gravity and in rate.
LOOSENS = {
    EventKind.DRY_HOP: (0.3, 1.5),
    EventKind.SUGAR: (1.0, 3.0),
    EventKind.FRUIT: (3.0, 3.0),
    EventKind.BLEND: (15.0, 5.0),
    EventKind.TRANSFER: (0.3, 0.5),
}


def advance(
    before: Estimate | None,
    facts: Facts,
    settings: JudgeSettings,
    latest: Bin,
    readings: Sequence[HandReading],
    happened: Sequence[Happening],
    volume_l: float,
    probe: ProbeOffset,
    *,
    probed: bool,
) -> tuple[Estimate, float | None]:
    """The estimate at the bin's end, and how far its last hydrometer reading was from what was expected of it.

    probed: whether a probe was heard of late, that a reading may contradict.
    """
    if before is None:
        before = kalman.start(facts.original, facts.original_sd, settings.drift_sd, probe.sd)
    share_left = (before.gravity - facts.highest_end) / max(facts.original - facts.highest_end, 1.0)
    estimate = kalman.predict(
        before,
        rate_noise=kalman.rate_noise(share_left, latest.temperature_c),
        drift_noise=kalman.DRIFT_NOISE if settings.drift_sd else 0.0,
    )
    for happening in happened:
        estimate = loosen(estimate, happening, volume_l)
    if latest.end_h > probe.since_h:
        estimate = kalman.observe_probe(estimate, latest)
    apart, before_it = None, HandReading("", 0.0, facts.original, facts.original_sd, True)
    for reading in readings:
        if reading.hour >= latest.end_h:
            break
        if reading.hour < latest.end_h - BIN_H:
            before_it = reading if reading.level_known else before_it
            continue
        days_ago = (latest.end_h - reading.hour) / 24.0
        if reading.level_known:
            repeated = before_it.id != "" and abs(before_it.gravity - reading.gravity) <= SAME
            alone = not probed and not contradict(before_it, reading)
            alone_d = (reading.hour - before_it.hour) / 24.0 if alone else 0.0
            estimate = kalman.observe_hydrometer(
                estimate, reading.gravity, reading.sd, days_ago, repeated=repeated, alone_d=alone_d
            )
            apart = reading.gravity - (estimate.gravity - days_ago * estimate.rate)
            before_it = reading
        elif reading.gassy:
            estimate = kalman.observe_hydrometer(estimate, reading.gravity, max(reading.sd, GASSY_SD), days_ago)
        else:
            estimate = kalman.observe_refractometer(estimate, reading.gravity, DIFFERENCE_SD, days_ago)
    return kalman.remember_decline(estimate), apart


def loosen(estimate: Estimate, happening: Happening, volume_l: float) -> Estimate:
    """What was done moves gravity by what it is known to add, and makes it and its rate less certain."""
    if happening.kind not in LOOSENS:
        return estimate
    gravity_sd, rate_sd = LOOSENS[happening.kind]
    mean, covariance = estimate.mean.copy(), estimate.covariance.copy()
    added = added_points(happening, volume_l)
    mean[GRAVITY] += added
    covariance[GRAVITY, GRAVITY] += gravity_sd**2 + (0.3 * added) ** 2
    covariance[RATE, RATE] += rate_sd**2
    return replace(estimate, mean=mean, covariance=np.asarray(covariance))
