"""The courses that the last points of a beer may take, and how likely each is before anything is measured.

The last points fall as `dP/dtheta = -P / (tau (1 + P/k))` in thermal time (uptake after Michaelis and Menten, k in
points), or slower from some point on because the yeast drops out; or they have stopped, or something creeps besides. A
grid of such courses stands for all.

The figures of the priors are common practice, and measured on simulated batches (`python -m tests.judge.closed`).
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fermwatch.judgement.facts import Facts

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

HALF_RATE = 3.0  # points, at which uptake is half of its fastest
NEAR_END = 4.0  # points left, by which a course is dated
NEVER = 99.0  # thermal days
LOGISTIC = 1.7  # of a logistic curve, that is nearest to a normal one

ORDINARY, DROPPED, RESTING, CREEPING = range(4)
# Edges of what is left, octaves about one point: finer about one and two points, and far below, for what is long done.
_OCTAVES = np.array([-30, -22, -16, -12, -9, -6.5, -4.5, -3, -2, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3, 4])
_EDGES = 2.0**_OCTAVES
_CELLS = np.arange(len(_EDGES) + 1)
_LEFT = 2.0 ** np.concatenate([_OCTAVES[:1] - 4.0, (_OCTAVES[1:] + _OCTAVES[:-1]) / 2.0, _OCTAVES[-1:] + 0.3])
_LOW, _HIGH = np.insert(_EDGES, 0, 0.0), np.append(_EDGES, np.inf)
_TAU = np.geomspace(0.15, 6.5, 10)
_TAUS = (_TAU, _TAU[1:7], _TAU[2:8:2], _TAU[1:8:2])  # by kind
_SLOWER = (2.5, 4.0, 6.0)
_DROP_AT = (2.0**1.5, 4.0, 2.0**2.5)
_STOPPED = {1.0: (0.0, 1.5), 2.2: (1.5, 3.0), 4.0: (3.0, 5.0), NEVER: (5.0, NEVER)}  # and what each stands for
_CREEPS = (0.35, 0.65, 1.2)
_CREEPS_FROM = (1.5, 4.5)
_BEYOND = (1e-30, 1e6)  # points: nothing, and more than any beer
_RUN_FROM, _RUN_STEP, _RUN_COUNT = -26.0, 0.03, 1430  # up to 44 points


@dataclass(frozen=True, slots=True)
class Prior:
    """What is expected before anything is measured; days are thermal, at the middle of the yeast's range.

    tau, near: median and spread of the logarithm. slow: the share of batches that are slower, and by how much. late:
    of those that start late, with their spread. lager_tau, lager_near: by how much longer where yeast works cold.
    untold: how much wider where nothing tells how warm it stands. drop, rest, creep: shares of batches; rest_untold:
    where it may stand cold and nobody says so.
    """

    tau: tuple[float, float] = (0.8, 0.6)
    slow: tuple[float, float] = (0.07, 3.0)
    near: tuple[float, float] = (3.6, 0.30)
    late: tuple[float, float, float] = (0.15, 1.7, 0.35)
    lager_tau: float = 1.7
    lager_near: float = 1.8
    untold: float = 0.2
    drop: float = 0.05
    rest: float = 0.005
    rest_untold: float = 0.04
    creep: float = 0.08
    creep_of_hops: float = 0.35


PRIOR = Prior()


@dataclass(frozen=True, slots=True)
class Courses:
    """Courses side by side, one a row.

    left: points at the time of the look; low, high: of what it stands for. drop_at, times_slower: of yeast that drops
    out, points. stopped: thermal days ago, of a beer that rests. creep: points a thermal day; creeps_from: when, in
    thermal days.
    share: of its kind, as far as neither the beer nor tau tells. least, most: thermal days since it was near its end.
    """

    kind: Whole
    tau: Array
    left: Array
    low: Array
    high: Array
    times_slower: Array
    drop_at: Array
    stopped: Array
    creep: Array
    creeps_from: Array
    share: Array
    least: Array
    most: Array


def _rows(kind: int, cells: Whole, **axes: tuple[float, ...]) -> dict[str, Array]:
    """Every combination of what this kind may be."""
    names = ("times_slower", "drop_at", "stopped", "creep", "creeps_from")
    plain = {"times_slower": (1.0,), "drop_at": (np.inf,), "stopped": (0.0,), "creep": (0.0,), "creeps_from": (0.0,)}
    besides = [np.asarray({**plain, **axes}[name]) for name in names]
    tau, cell, *grids = (one.ravel() for one in np.meshgrid(_TAUS[kind], cells, *besides, indexing="ij"))
    found = {"tau": tau, "left": _LEFT[cell], "low": _LOW[cell], **dict(zip(names, grids, strict=True))}
    found["high"] = np.minimum(_HIGH[cell], found["drop_at"])
    # A beer may come to rest with any number of points left; how much of another kind is left by now, its course says.
    evenly = float(len(cells)) if kind == RESTING else float(np.prod([len(one) for one in besides]))
    found["share"] = np.ones(len(tau)) / evenly
    found["kind"] = np.full(len(tau), float(kind))
    kept = found["left"] < found["drop_at"]
    return {name: values[kept] for name, values in found.items()}


@lru_cache(maxsize=1)
def courses() -> Courses:
    """All courses that are weighed."""
    parts = [
        _rows(ORDINARY, _CELLS),
        _rows(DROPPED, _CELLS, times_slower=_SLOWER, drop_at=_DROP_AT),
        _rows(RESTING, _CELLS[_LOW >= 2.0], stopped=tuple(_STOPPED)),
        _rows(CREEPING, _CELLS[_HIGH <= 2.0], creep=_CREEPS, creeps_from=_CREEPS_FROM),
    ]
    joined = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    return _dated(joined)


def _run(left: Array | float) -> Array:
    """Thermal time, in units of tau, from one fixed end back to so many points left."""
    return np.asarray(np.log(left) + np.asarray(left) / HALF_RATE)


@lru_cache(maxsize=1)
def _table() -> Array:
    """What is left at evenly spaced runs: `_run` inverted."""
    fine = np.geomspace(1e-12, 60.0, 20_000)
    return np.asarray(np.interp(_RUN_FROM + _RUN_STEP * np.arange(_RUN_COUNT + 1), _run(fine), fine))


def _left_at(run: Array) -> Array:
    """Points left by `_run`, by a table: within a thousandth."""
    place = np.clip((run - _RUN_FROM) / _RUN_STEP, 0.0, _RUN_COUNT - 1e-6)
    whole = place.astype(np.int64)
    share = place - whole
    table = _table()
    return np.asarray(table[whole] * (1.0 - share) + table[whole + 1] * share)


def crept(found: Courses, theta: float) -> Array:
    """Points by which creeping has brought gravity down by then."""
    return np.asarray(found.creep * np.maximum(theta - found.creeps_from, 0.0))


def fallen_since(found: Courses, theta: float, ago: Array) -> Array:
    """Points by which gravity stood higher, thermal days before `theta`; courses down, instants across."""
    ago = np.maximum(ago, 0.0)[None, :]
    moved = np.maximum(ago - found.stopped[:, None], 0.0)
    dropped = found.kind == DROPPED
    slow = np.where(dropped, _slowly(found, found.left), np.inf)[:, None]
    at_full_speed = np.minimum(moved, slow) / found.times_slower[:, None] + np.maximum(moved - slow, 0.0)
    then = _left_at(_run(found.left)[:, None] + at_full_speed / found.tau[:, None])
    creeping = found.creep[:, None] * np.minimum(ago, np.maximum(theta - found.creeps_from, 0.0)[:, None])
    return np.asarray(then - found.left[:, None] + creeping)


def falling(found: Courses) -> Array:
    """Points a thermal day by which each falls now."""
    ordinary = found.left / (found.tau * found.times_slower * (1.0 + found.left / HALF_RATE))
    return np.asarray(np.where(found.kind == RESTING, 0.0, ordinary) + found.creep)


def _slowly(found: Courses, left: Array) -> Array:
    """For how many thermal days dropped yeast has worked slowly until so much is left."""
    drop_at = np.where(found.kind == DROPPED, found.drop_at, 1.0)
    return np.asarray(found.times_slower * found.tau * (_run(drop_at) - _run(np.clip(left, *_BEYOND))))


def _log_normal(values: Array, median: float, spread: float) -> Array:
    return np.asarray(np.exp(-0.5 * (np.log(values / median) / spread) ** 2) / spread)


def _come_by(days: Array, median: float, spread: float) -> Array:
    """The share that has come there in so many days: log-logistic, near a log-normal of this spread."""
    return np.asarray(1.0 / (1.0 + (median / np.maximum(days, 1e-3)) ** (LOGISTIC / spread)))


def _near_by(days: Array, facts: Facts, prior: Prior, *, warmth_known: bool) -> Array:
    """The share of beers of its kind that are within `NEAR_END` of their end in so many thermal days."""
    usual = prior.near[0] * (prior.lager_near if facts.bottom_fermenting else 1.0) * (facts.original / 50.0) ** 0.3
    wider = 0.0 if warmth_known else prior.untold
    share, later, late_spread = prior.late
    ordinary = _come_by(days, usual, float(np.hypot(prior.near[1], wider)))
    return (1.0 - share) * ordinary + share * _come_by(days, usual * later, float(np.hypot(late_spread, wider)))


def chances(found: Courses, facts: Facts, theta: float, *, warmth_known: bool, prior: Prior) -> Array:
    """Of each course: how ordinary it is, and that a beer of its kind has come there in `theta` thermal days."""
    median, spread = prior.tau[0] * (prior.lager_tau if facts.bottom_fermenting else 1.0), prior.tau[1]
    slow, slower = prior.slow

    def weight(tau: Array) -> Array:
        return (1.0 - slow) * _log_normal(tau, median, spread) + slow * _log_normal(tau, slower * median, spread)

    of_tau = weight(found.tau) / np.array([weight(taus).sum() for taus in _TAUS])[found.kind]
    come = _near_by(theta - found.least, facts, prior, warmth_known=warmth_known)
    come -= _near_by(theta - found.most, facts, prior, warmth_known=warmth_known)
    creep = prior.creep if facts.last_hops_h is None else prior.creep_of_hops
    rest = prior.rest if warmth_known else prior.rest_untold
    kinds = np.array([1.0 - prior.drop - rest - creep, prior.drop, rest, creep])
    return np.asarray(np.maximum(kinds[found.kind] * found.share * of_tau * come, 1e-300))


def _dated(rows: dict[str, Array]) -> Courses:
    """Courses, with how long ago each was near its end, at least and at most, of what it stands for."""
    nothing = np.zeros(len(rows["tau"]))
    found = Courses(rows.pop("kind").astype(np.int64), **rows, least=nothing, most=nothing)
    near, dropped, resting = float(_run(NEAR_END)), found.kind == DROPPED, found.kind == RESTING

    def since(left: Array) -> Array:
        at_full_speed = np.where(dropped, found.drop_at, np.clip(left, *_BEYOND))
        return np.asarray(found.tau * (near - _run(at_full_speed)) + np.where(dropped, _slowly(found, left), 0.0))

    stood = np.array([_STOPPED.get(float(one), (0.0, 0.0)) for one in found.stopped])
    least = since(np.where(resting, found.left, found.high)) + stood[:, 0]
    most = since(np.where(resting, found.left, found.low)) + stood[:, 1]
    return replace(found, least=least, most=most)
