"""How long judging takes, at three weeks of five-minute readings, beside one plain numpy pass over the same data.

CPU time of this process, so that a busy machine does not spoil the figures.
"""

import time
from array import array
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from statistics import median

import numpy as np

from fermwatch.clock import to_ms
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, GravityMeasurement, PackageChoice
from fermwatch.model.yeast import Yeast
from fermwatch.replaying.input import GRAVITY, TEMPERATURE, Row
from fermwatch.replaying.replay import replay

PITCHED = datetime(2026, 3, 1, 18, tzinfo=UTC)
DAYS, EVERY_MIN = 21, 5
EVALUATION_AIM_MS, START_AIM_MS, REPLAY_AIM_S = 30.0, 1000.0, 3.0
BATCH = Batch(
    "bench",
    "bench",
    "left",
    1.050,
    PITCHED,
    20.0,
    Yeast("clean-ale", "clean ale", 17.0, 22.0, 0.72, 0.80),
    package=PackageChoice("returnable-glass", 2.4, 25.0),
)


def rows() -> list[Row]:
    random = np.random.default_rng(1)
    hours = np.arange(0.0, DAYS * 24.0, EVERY_MIN / 60.0)
    gravity = 12.0 + 38.0 / (1.0 + np.exp((hours - 45.0) / 9.0)) + random.normal(0.0, 1.0, len(hours))
    found = []
    for hour, points in zip(hours.tolist(), gravity.tolist(), strict=True):
        at = PITCHED + timedelta(hours=hour)
        found += [Row(at, "T1", TEMPERATURE, 20.0), Row(at, "G1", GRAVITY, 1.0 + points / 1000.0)]
    found += [Row(PITCHED + timedelta(hours=h), "hydrometer", GRAVITY, 1.012) for h in range(160, DAYS * 24, 60)]
    return sorted(found, key=lambda row: row.at)


def numpy_pass(values: np.ndarray) -> float:
    """Bin medians, differences, and a line: what anybody would do in one look."""
    binned = np.median(values[: len(values) // 36 * 36].reshape(-1, 36), axis=1)
    slope = np.polyfit(np.arange(len(binned)), binned, 1)[0]
    return float(slope + np.median(np.abs(np.diff(values, 2))))


def seconds(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return median(taken)


def evaluations_s(told: list[Row], count: int = 40) -> list[float]:
    """Seconds of each of the last evaluations: new readings of three hours, then one judgement with its forecast."""
    judge, taken = Judge(BATCH), []
    end = PITCHED + timedelta(days=DAYS)
    start = end - timedelta(hours=3 * count)
    waiting = list(told)
    now = start
    while now <= end:
        while waiting and waiting[0].at < now:
            _tell(judge, waiting.pop(0))
        began = time.process_time()
        judge.judge(now)
        taken.append(time.process_time() - began)
        now += timedelta(hours=3)
    return taken[1:]  # the first walks the whole log


def _tell(judge: Judge, row: Row) -> None:
    if row.probe == "hydrometer":
        judge.add_measurement(GravityMeasurement(row.at.isoformat(), row.at, row.value))
    elif row.quantity == GRAVITY:
        judge.add_gravity(row.at, row.value)
    else:
        judge.add_temperature(row.at, row.value)


def start_s(told: list[Row]) -> float:
    """A judge's start: all that the store holds of the batch is told, as a watcher tells it, and judged once."""
    by_hand = [row for row in told if row.probe == "hydrometer"]
    columns = {
        quantity: [(to_ms(row.at), row.value) for row in told if row.quantity == quantity and row.probe != "hydrometer"]
        for quantity in (GRAVITY, TEMPERATURE)
    }
    numbers = {
        quantity: (array("q", [ms for ms, _ in column]), array("d", [value for _, value in column]))
        for quantity, column in columns.items()
    }

    def start() -> None:
        judge = Judge(BATCH)
        judge.add_gravities(*numbers[GRAVITY])
        judge.add_temperatures(*numbers[TEMPERATURE])
        for row in by_hand:
            _tell(judge, row)
        judge.judge(PITCHED + timedelta(days=DAYS))

    return seconds(start, 5)


def report() -> str:
    """The figures, one a line."""
    told = rows()
    values = np.array([row.value for row in told if row.probe == "G1"])
    plain_ms = seconds(lambda: numpy_pass(values), 50) * 1000.0
    each = sorted(evaluations_s(told))
    evaluation_ms, slowest_ms = median(each) * 1000.0, each[int(0.95 * len(each))] * 1000.0
    start_ms = start_s(told) * 1000.0
    replay_s = seconds(lambda: list(replay(told, BATCH)), 1)
    return "\n".join(
        (
            f"judgement: {len(told)} rows, {DAYS} days every {EVERY_MIN} minutes",
            f"  one plain numpy pass              {plain_ms:8.2f} ms",
            f"  one evaluation, median / 95 %   {evaluation_ms:8.2f} / {slowest_ms:.0f} ms (aim {EVALUATION_AIM_MS:g})",
            f"  a judge's start over all of it    {start_ms:8.0f} ms (aim {START_AIM_MS:.0f})",
            f"  whole replay with rules, alarms   {replay_s:8.2f} s  (aim {REPLAY_AIM_S:.0f})",
        )
    )


if __name__ == "__main__":
    import sys

    sys.stdout.write(report() + "\n")
