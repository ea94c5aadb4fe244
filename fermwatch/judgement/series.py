"""Readings of one quantity, kept in time order however late they arrive: bare numbers, since weeks of them are kept."""

from array import array
from bisect import bisect_left, bisect_right

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Series:
    """Hours and values in time order; a pair already there is the same reading delivered again."""

    def __init__(self) -> None:
        self._hours, self._values = array("d"), array("d")

    def __len__(self) -> int:
        return len(self._hours)

    def add(self, hour: float, value: float) -> bool:
        """Take a reading in; False if it was there already."""
        if not self._hours or (self._hours[-1], self._values[-1]) < (hour, value):
            self._hours.append(hour)
            self._values.append(value)
            return True
        first = bisect_left(self._hours, hour)
        after = bisect_right(self._hours, hour, first)
        place = bisect_left(self._values, value, first, after)
        if place < after and self._values[place] == value:
            return False
        self._hours.insert(place, hour)
        self._values.insert(place, value)
        return True

    def add_many(self, hours: Array, values: Array) -> float | None:
        """Take many in, in any order; the first hour of those that were not there, None where all were."""
        order = np.lexsort((values, hours))
        hours, values = hours[order], values[order]
        late = self._not_after_the_last(hours, values)
        filed = [
            hour
            for hour, value in zip(hours[:late].tolist(), values[:late].tolist(), strict=True)
            if self.add(hour, value)
        ]
        hours, values = hours[late:], values[late:]
        new = np.ones(len(hours), dtype=bool)
        new[1:] = (np.diff(hours) != 0.0) | (np.diff(values) != 0.0)
        self._hours.frombytes(hours[new].tobytes())
        self._values.frombytes(values[new].tobytes())
        return min((*filed, *hours[:1].tolist()), default=None)

    def _not_after_the_last(self, hours: Array, values: Array) -> int:
        """How many of these, in order, do not simply follow what is there."""
        if not self._hours:
            return 0
        last_h, last = self._hours[-1], self._values[-1]
        return int(np.count_nonzero((hours < last_h) | ((hours == last_h) & (values <= last))))

    def count_before(self, hour: float) -> int:
        return bisect_left(self._hours, hour)

    def between(self, start: float, end: float) -> list[tuple[float, float]]:
        """Those with start <= hour < end."""
        first, after = bisect_left(self._hours, start), bisect_left(self._hours, end)
        return list(zip(self._hours[first:after], self._values[first:after], strict=True))

    def last_before(self, end: float, count: int) -> tuple["array[float]", "array[float]"]:
        """Hours and values of the last `count` readings before `end`."""
        after = bisect_left(self._hours, end)
        first = max(0, after - count)
        return self._hours[first:after], self._values[first:after]
