"""Readings of one quantity, kept in time order however late they arrive."""

from bisect import bisect_left, bisect_right, insort


class Series:
    """(hour, value) pairs in time order; a pair already there is the same reading delivered again."""

    def __init__(self) -> None:
        self._rows: list[tuple[float, float]] = []

    def __len__(self) -> int:
        return len(self._rows)

    def add(self, hour: float, value: float) -> bool:
        """Take a reading in; False if it was there already."""
        row = (hour, value)
        if not self._rows or self._rows[-1] < row:
            self._rows.append(row)
            return True
        place = bisect_left(self._rows, row)
        if place < len(self._rows) and self._rows[place] == row:
            return False
        insort(self._rows, row)
        return True

    def between(self, start: float, end: float) -> list[tuple[float, float]]:
        """Those with start <= hour < end."""
        return self._rows[bisect_left(self._rows, (start,)) : bisect_left(self._rows, (end,))]

    def last_before(self, end: float, count: int) -> list[tuple[float, float]]:
        """The last `count` readings before `end`."""
        stop = bisect_left(self._rows, (end,))
        return self._rows[max(0, stop - count) : stop]

    def values_until(self, hour: float) -> list[float]:
        """Values up to and with `hour`."""
        return [value for _, value in self._rows[: bisect_right(self._rows, (hour, float("inf")))]]
