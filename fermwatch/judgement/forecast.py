"""Where the beer will end and when: two curve families in thermal time, with the yeast's own figures as prior.

Each family is fitted at its maximum a posteriori with Student-t residuals; the covariance there (Laplace) gives the
uncertainty, and the two are mixed by their tempered evidence. The probe's offset and drift, and the original gravity,
are fitted along, so that hydrometer readings and the curve's own slowing down count for what they are worth.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fermwatch.judgement.curves import Richards, Uptake
from fermwatch.judgement.ends import End, density_of
from fermwatch.judgement.fitting import Fit, fit
from fermwatch.judgement.kalman import SHARE, density_effect
from fermwatch.judgement.settings import BIN_H
from fermwatch.judgement.thermal import speed
from fermwatch.judgement.view import View

Array = NDArray[np.float64]
Curve = Uptake | Richards

DRAWS = 500
STUDENT_FREEDOM = 4.0
DONE_WITHIN = 1.0  # points from the end
TEMPER = 4.0
PADDING_H = 4.0
LONGEST_AHEAD_H = 365.0 * 24.0
HYDROMETER_SD = 0.7


@dataclass(frozen=True, slots=True)
class Outlook:
    """terminal, low, high: points; done, done_low, done_high: hours since pitch; intervals hold 90 %."""

    hour: float
    terminal: float
    low: float
    high: float
    done: float
    done_low: float
    done_high: float
    cannot_know: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tuning:
    """What was measured on simulated batches rather than derived.

    wide: sd of attenuation, in half widths of the yeast's range, that curves are fitted under, before they are weighed
    by where the beer is expected to end.
    """

    half: tuple[float, float] = (5.0, 0.6)  # points left at half the uptake rate: median, spread of its logarithm
    growth_spread: float = 0.6
    shape: tuple[float, float] = (0.8, 0.5)
    # The chance that the slowing seen is no sign of the end but of a stall, a slow tail or a probe that strays, and
    # then says nothing; and the span, in half widths, over which a curve that says nothing may lie.
    silent: float = 0.4
    silent_span: float = 8.0
    wide: float = 2.0
    misfit: tuple[float, float] = (0.35, 0.6)  # what a family cannot follow, points
    foam: float = 1.2
    correlated: float = 2.0  # neighbouring bins tell less than independent ones
    # How wide the posterior proves to be, as a share of what it claims: at the end, and more for each share left.
    width: tuple[float, float] = (0.5, 2.5)
    favour: float = 0.8  # of the Richards family, logarithm: the uptake family is too sure of itself
    terminal_extra: float = 0.3
    time_spread: float = 0.45


TUNING = Tuning()


@dataclass(frozen=True, slots=True)
class Family:
    """A curve family: the means and spreads of the logarithms (or values) of its own parameters."""

    name: str
    means: Array
    spreads: Array
    curve: Callable[[Array, Array], Curve]
    misfit: float


@dataclass(frozen=True, slots=True)
class Data:
    """What is fitted: thermal hours and points of the probe's bins and of hydrometer readings, with variances."""

    probe_theta: Array
    probe_days: Array
    probe: Array
    probe_variance: Array
    hand_theta: Array
    hand: Array
    hand_variance: Array
    clock_h: Array
    clock_theta: Array
    speed_now: float


def look_ahead(view: View, tuning: Tuning = TUNING) -> Outlook:
    """The forecast that rests on this view."""
    data = gather(view, tuning)
    families = (uptake_family(view, tuning), richards_family(view, tuning))
    fitted = [_fit(family, data, view, tuning) for family in families]
    levels = np.array([_evidence(found, family) for found, family in zip(fitted, families, strict=True)])
    levels = levels + np.array([0.0, tuning.favour])
    weights = np.exp((levels - levels.max()) / TEMPER)
    weights /= weights.sum()
    draws = [_draws(found, family, data, view, tuning) for found, family in zip(fitted, families, strict=True)]
    return _mixed(view, draws, weights)


def gather(view: View, tuning: Tuning) -> Data:
    facts = view.facts
    temperatures = np.array([b.temperature_c for b in view.bins])
    speeds = speed(temperatures, facts.temperature_low_c, facts.temperature_high_c)
    clock_h = np.arange(len(view.bins) + 1, dtype=np.float64) * BIN_H
    clock_theta = np.concatenate([[0.0], np.cumsum(speeds * BIN_H)])
    probed = [b for b in view.bins if b.gravity is not None and b.end_h > view.probe.since_h]
    share = float(view.estimate.mean[SHARE])
    hours = np.array([b.middle_h for b in probed])
    values = np.array([(b.gravity or 0.0) - share * density_effect(b.temperature_c) for b in probed])
    falling = _declines(hours, values)
    foam = (tuning.foam * np.minimum(1.0, falling / 12.0)) ** 2
    variance = np.array([b.median_variance for b in probed]) + foam
    levels = [r for r in view.readings if r.level_known]
    return Data(
        probe_theta=np.interp(hours, clock_h, clock_theta),
        probe_days=hours / 24.0,
        probe=values,
        probe_variance=variance,
        hand_theta=np.interp([r.hour for r in levels], clock_h, clock_theta),
        hand=np.array([r.gravity for r in levels]),
        hand_variance=np.array([r.sd**2 for r in levels]),
        clock_h=clock_h,
        clock_theta=clock_theta,
        speed_now=max(float(speeds[-8:].mean()), 0.02),
    )


def _declines(hours: Array, values: Array) -> Array:
    """Points/day around each bin, over about half a day."""
    if len(hours) < 5:
        return np.full(len(hours), 6.0)
    span = 2
    ahead = np.minimum(np.arange(len(hours)) + span, len(hours) - 1)
    behind = np.maximum(np.arange(len(hours)) - span, 0)
    return np.abs((values[ahead] - values[behind]) / (hours[ahead] - hours[behind]) * 24.0)


def _rate_prior(view: View) -> float:
    """Logarithm of the steepest decline to expect, points/h (common practice: 15 points/day at 19.5 °C and 1.050)."""
    facts = view.facts
    warmth = 2.0 ** (((facts.temperature_low_c + facts.temperature_high_c) / 2.0 - 19.5) / 10.0)
    return float(np.log(15.0 * warmth * (max(facts.original, 5.0) / 50.0) ** 0.7 / 24.0))


def _cooler(view: View, share: float) -> float:
    facts = view.facts
    return share * ((facts.temperature_low_c + facts.temperature_high_c) / 2.0 - 19.5) / 10.0 * float(np.log(2.0))


def uptake_family(view: View, tuning: Tuning) -> Family:
    means = [
        _rate_prior(view),
        np.log(10.0) - _cooler(view, 0.5),
        np.log(tuning.half[0]),
        np.log(0.18),
        np.log(0.075) + _cooler(view, 0.5),
    ]
    spreads = np.array([0.4, 0.45, tuning.half[1], 0.5, tuning.growth_spread])

    def curve(end: Array, logs: Array) -> Uptake:
        steepest, lag, half, seed, growth = (np.exp(logs[:, i : i + 1]) for i in range(5))
        return Uptake(end, steepest, lag, half, np.minimum(seed, 0.999), growth)

    return Family("uptake", np.array(means), spreads, curve, tuning.misfit[0])


def richards_family(view: View, tuning: Tuning) -> Family:
    means = [_rate_prior(view), np.log(14.0) - _cooler(view, 0.5), tuning.shape[0]]
    spreads = np.array([0.45, 0.5, tuning.shape[1]])

    def curve(end: Array, own: Array) -> Richards:
        steepest, lag = np.exp(own[:, 0:1]), np.exp(own[:, 1:2])
        return Richards(end, steepest, lag, np.maximum(own[:, 2:3], 0.02))

    return Family("richards", np.array(means), spreads, curve, tuning.misfit[1])


# The parameters that both families share come first: attenuation, original gravity, probe offset, probe drift.
SHARED = 4


def _prior(view: View, tuning: Tuning) -> tuple[Array, Array]:
    facts = view.facts
    half = _half_range(view)
    attenuation_sd = tuning.wide * half
    means = np.array([facts.attenuation_middle, facts.original, 0.0, 0.0])
    spreads = np.array([attenuation_sd, facts.original_sd, view.probe.sd, max(view.settings.drift_sd, 0.02)])
    return means, spreads


def _fit(family: Family, data: Data, view: View, tuning: Tuning) -> Fit:
    shared_means, shared_spreads = _prior(view, tuning)
    means = np.concatenate([shared_means, family.means])
    spreads = np.concatenate([shared_spreads, family.spreads])
    probe_sd = np.sqrt(tuning.correlated * (data.probe_variance + family.misfit**2))
    hand_sd = np.sqrt(data.hand_variance + family.misfit**2)

    def residuals(parameters: Array) -> Array:
        attenuation, original, offset, drift = (parameters[:, i : i + 1] for i in range(SHARED))
        curve = family.curve(np.maximum(attenuation * original, 1.0), parameters[:, SHARED:])
        probe = original + offset + drift * data.probe_days - curve.fallen(data.probe_theta)
        hand = original - curve.fallen(data.hand_theta)
        return np.concatenate(
            [(data.probe - probe) / probe_sd, (data.hand - hand) / hand_sd, (parameters - means) / spreads], axis=1
        )

    return fit(residuals, means, steps=25, tolerance=3e-4, student=(len(data.probe) + len(data.hand), STUDENT_FREEDOM))


def _evidence(found: Fit, family: Family) -> float:
    """Laplace's approximation, up to what both families share."""
    _, size = np.linalg.slogdet(found.covariance)
    return -found.cost + 0.5 * float(size) - float(np.log(family.spreads).sum())


@dataclass(frozen=True, slots=True)
class Draws:
    """Draws of the posterior, weighted."""

    terminal: Array
    done_h: Array
    weights: Array


def _draws(found: Fit, family: Family, data: Data, view: View, tuning: Tuning) -> Draws:
    """Ends and times of finishing drawn from the posterior (a fixed seed: same in, same out)."""
    generator = np.random.default_rng(20)
    normal = generator.standard_normal((DRAWS, len(found.parameters)))
    values, vectors = np.linalg.eigh((found.covariance + found.covariance.T) / 2.0)
    width = _width(found, family, data, tuning)
    drawn = found.parameters + width * normal @ (vectors * np.sqrt(np.maximum(values, 0.0))).T
    drawn, weights = _tempered(drawn, view, tuning, generator)
    attenuation, original = drawn[:, 0:1], drawn[:, 1:2]
    curve = family.curve(np.maximum(attenuation * original, DONE_WITHIN + 0.5), drawn[:, SHARED:])
    thetas = curve.hours_until(DONE_WITHIN)[:, 0]
    stretched = np.exp(tuning.time_spread * generator.standard_normal(len(drawn)))
    now_h, now_theta = data.clock_h[-1], data.clock_theta[-1]
    ahead = now_h + np.maximum(thetas - now_theta, 0.0) * stretched / data.speed_now
    behind = np.interp(thetas, data.clock_theta, data.clock_h)
    extra = tuning.terminal_extra * generator.standard_normal(len(drawn))
    return Draws(
        terminal=(original * (1.0 - attenuation))[:, 0] + extra,
        done_h=np.where(thetas > now_theta, ahead, behind),
        weights=weights,
    )


def _width(found: Fit, family: Family, data: Data, tuning: Tuning) -> float:
    """The earlier in the ferment, the less the shape so far tells of its end, whatever the fit claims."""
    end = np.maximum(found.parameters[None, 0:1] * found.parameters[None, 1:2], 1.0)
    fallen = family.curve(end, found.parameters[None, SHARED:]).fallen(data.clock_theta[-1:])
    left = 1.0 - float(fallen[0, 0]) / float(end[0, 0])
    return min(tuning.width[0] + tuning.width[1] * max(left, 0.0), 1.5)


def _half_range(view: View) -> float:
    return max((view.facts.attenuation_high - view.facts.attenuation_low) / 2.0, 0.01)


def _tempered(drawn: Array, view: View, tuning: Tuning, generator: np.random.Generator) -> tuple[Array, Array]:
    """Draws with their weights: from the wide prior back to the yeast's own, and as many more whose end is its alone.

    Most worts end well inside the range, a few outside. A curve far outside is likelier to be a stall than an end: then
    the second half, which believes only the range, outweighs the first.
    """
    middle, half, ends = view.facts.attenuation_middle, _half_range(view), view.facts.ends
    prior = half * density_of(ends, drawn[:, 0])
    undone = 1.0 / (_density((drawn[:, 0] - middle) / half, tuning.wide) + 1e-12)
    told = (1.0 - tuning.silent) * float((prior * undone).sum() / undone.sum())
    silent = tuning.silent / tuning.silent_span
    unread = drawn.copy()
    unread[:, 0] = _drawn_ends(ends, generator.standard_normal(len(drawn)))
    read = prior * undone + 1e-12
    both = np.concatenate([told * read / read.sum(), np.full(len(drawn), silent / len(drawn))])
    return np.concatenate([drawn, unread]), np.asarray(both / both.sum())


def _drawn_ends(ends: Sequence[End], normal: Array) -> Array:
    """As many ends as there are normal deviates, of each part of the mixture its share."""
    parts = np.searchsorted(np.cumsum([end.share for end in ends]), (np.arange(len(normal)) + 0.5) / len(normal))
    parts = np.minimum(parts, len(ends) - 1)
    return np.array([end.attenuation for end in ends])[parts] + np.array([end.sd for end in ends])[parts] * normal


def _density(away: Array, spread: float) -> Array:
    return np.asarray(np.exp(-0.5 * (away / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi)))


def _mixed(view: View, draws: list[Draws], weights: Array) -> Outlook:
    terminals = np.concatenate([drawn.terminal for drawn in draws])
    times = np.minimum(np.concatenate([drawn.done_h for drawn in draws]), view.hour + LONGEST_AHEAD_H)
    share = np.concatenate([weight * drawn.weights for weight, drawn in zip(weights, draws, strict=True)])
    low, terminal, high = _quantiles(terminals, share, (0.05, 0.5, 0.95))
    first, middle, last = _quantiles(times, share, (0.05, 0.5, 0.95))
    return Outlook(
        hour=view.hour,
        terminal=terminal,
        low=low,
        high=high,
        done=middle,
        done_low=first - PADDING_H,
        done_high=last + PADDING_H,
        cannot_know=_cannot_know(view),
    )


def _quantiles(values: Array, weights: Array, shares: tuple[float, ...]) -> tuple[float, ...]:
    order = np.argsort(values)
    reached = np.cumsum(weights[order]) - 0.5 * weights[order]
    return tuple(float(np.interp(share, reached, values[order])) for share in shares)


def _cannot_know(view: View) -> tuple[str, ...]:
    facts, found = view.facts, []
    if facts.diastatic:
        found.append("the slow sugars that a diastatic yeast frees for weeks after the ordinary ones")
    if facts.wild:
        found.append("what wild yeast still works on in the months to come")
    if facts.last_hops_h is not None:
        found.append("what the hops' enzymes free after dry hopping")
    if facts.last_addition_h is not None:
        found.append("how far sugar, fruit or a blend moves the end")
    return tuple(found)
