"""A curve over a window of time: braille dots, two by four a cell, or an ASCII form. Gaps stay gaps."""

from collections.abc import Sequence
from datetime import timedelta

from fermwatch.contracts.store import Bucket
from fermwatch.model.window import Window

LONGEST_JOIN = timedelta(minutes=50)
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))  # by column, top to bottom (Unicode: Braille Patterns)
_BRAILLE = 0x2800
_ASCII_LEVELS = "'-."  # high, middle, low within one cell

Extent = tuple[float, float] | None


def extent(curve: Sequence[Bucket], least: float) -> tuple[float, float] | None:
    """The lowest and highest value, widened to a span of at least `least`; None for no curve."""
    if not curve:
        return None
    low, high = min(bucket.low for bucket in curve), max(bucket.high for bucket in curve)
    missing = max(least - (high - low), 0.0) / 2
    return low - missing, high + missing


def _longest_join(window: Window) -> timedelta:
    """Buckets further apart than this have silence between them, which is not drawn over."""
    return max(LONGEST_JOIN, window.span * 10 / 3)


def columns(curve: Sequence[Bucket], window: Window, count: int) -> list[Extent]:
    """For each of `count` columns over the window, the lowest and highest value in it, or None in a gap."""
    found: list[Extent] = [None] * count
    previous: tuple[int, Bucket] | None = None
    longest_join = _longest_join(window)
    for bucket in curve:
        x = window.column(bucket.at, count)
        if not 0 <= x < count:
            continue
        old = found[x]
        found[x] = (min(bucket.low, old[0]), max(bucket.high, old[1])) if old else (bucket.low, bucket.high)
        if previous is not None and bucket.at - previous[1].at <= longest_join:
            _join(found, previous, (x, bucket))
        previous = x, bucket
    return found


def means(curve: Sequence[Bucket], window: Window, count: int) -> list[float | None]:
    """For each of `count` columns over the window, the mean of what began in it; one without goes on as the one before,
    but for a gap."""
    sums: list[tuple[float, int]] = [(0.0, 0)] * count
    heard: list[timedelta | None] = [None] * count
    for bucket in curve:
        x = window.column(bucket.at, count)
        if 0 <= x < count:
            total, number = sums[x]
            sums[x], heard[x] = (total + bucket.mean * bucket.count, number + bucket.count), bucket.at - window.start
    found: list[float | None] = []
    last: tuple[timedelta, float] | None = None
    for x, (total, number) in enumerate(sums):
        begins, at = window.length * x / count, heard[x]
        if at is not None:
            last = at, total / number
        found.append(None if last is None or begins - last[0] > _longest_join(window) else last[1])
    return found


def _join(found: list[Extent], left: tuple[int, Bucket], right: tuple[int, Bucket]) -> None:
    (x0, first), (x1, last) = left, right
    for x in range(x0 + 1, x1):
        value = first.mean + (last.mean - first.mean) * (x - x0) / (x1 - x0)
        found[x] = (value, value)


def _level(value: float, low: float, high: float, count: int) -> int:
    """0 at the top."""
    return min(max(round((high - value) / (high - low) * (count - 1)), 0), count - 1)


def braille(curve: Sequence[Bucket], window: Window, size: int, rows: int, scale: tuple[float, float]) -> list[str]:
    """`rows` strings of `size` cells; blank cells are spaces, which every font draws alike."""
    low, high = scale
    grid = [[0] * size for _ in range(rows)]
    last: tuple[int, int] | None = None
    for x, values in enumerate(columns(curve, window, size * 2)):
        if values is None:
            last = None
            continue
        top, bottom = (_level(value, low, high, rows * 4) for value in (values[1], values[0]))
        reach = (top, bottom)
        if last is not None:  # no holes in a steep stretch
            top, bottom = min(top, last[1] + 1), max(bottom, last[0] - 1)
        last = reach
        for y in range(min(top, bottom), max(top, bottom) + 1):
            grid[y // 4][x // 2] |= _DOTS[x % 2][y % 4]
    return ["".join(chr(_BRAILLE + dots) if dots else " " for dots in row) for row in grid]


def typed(curve: Sequence[Bucket], window: Window, size: int, rows: int, scale: tuple[float, float]) -> list[str]:
    """The same in ASCII: three levels a cell, a bar where a column spans cells."""
    low, high = scale
    grid = [[" "] * size for _ in range(rows)]
    for x, values in enumerate(columns(curve, window, size)):
        if values is None:
            continue
        top, bottom = (_level(value, low, high, rows * 3) for value in (values[1], values[0]))
        if bottom - top < 3:
            middle = (top + bottom) // 2
            grid[middle // 3][x] = _ASCII_LEVELS[middle % 3]
            continue
        for y in range(top // 3, bottom // 3 + 1):
            grid[y][x] = "|"
    return ["".join(row) for row in grid]
