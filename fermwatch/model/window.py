"""A stretch of time in equal columns: how a history is asked for, read and drawn."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.clock import EPOCH
from fermwatch.errors import InputError

QUARTER = timedelta(minutes=15)  # every zone is whole quarters of an hour away from UTC
DAY_COLUMNS = 96  # quarter hours


@dataclass(frozen=True, slots=True)
class Window:
    """[start, end) in `columns` equal spans. InputError where it holds no time, or no column."""

    start: datetime
    end: datetime
    columns: int

    def __post_init__(self) -> None:
        if self.end <= self.start or self.columns < 1:
            raise InputError(f"From {self.start} to {self.end} in {self.columns} columns is no stretch of time.")

    @property
    def length(self) -> timedelta:
        return self.end - self.start

    @property
    def span(self) -> timedelta:
        """Of one column."""
        return self.length / self.columns

    def column(self, at: datetime, count: int) -> int:
        """Of `count` equal columns, the one that an instant falls into; beyond the window, outside 0..count - 1.

        By time gone by, so that it is right also on the nights on which clocks are changed.
        """
        return (at - self.start) * count // self.length


def last_day(now: datetime) -> Window:
    """The 24 h that end with the running quarter of an hour, so that a curve stands still in between."""
    end = now - (now - EPOCH) % QUARTER + QUARTER
    return Window(end - DAY_COLUMNS * QUARTER, end, DAY_COLUMNS)
