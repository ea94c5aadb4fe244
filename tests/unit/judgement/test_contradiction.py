"""Two readings by hand of which one is a slip."""

import pytest

from fermwatch.judgement.contradiction import contradiction
from fermwatch.judgement.stillness import HandReading


def read(hour: float, points: float, instrument: str = "hydrometer", sd: float = 0.7) -> HandReading:
    return HandReading(f"{hour}", hour, points, sd, instrument == "hydrometer", instrument)


@pytest.mark.parametrize(
    "readings",
    [
        [read(100.0, 26.0), read(100.1, 11.0)],
        [read(100.0, 11.0), read(110.0, 15.0)],  # beer does not rise
        [read(100.0, 26.0), read(100.0, 11.0, "refractometer", 2.0)],
    ],
)
def test_they_contradict_each_other(readings: list[HandReading]) -> None:
    assert contradiction(readings) == tuple(readings)


@pytest.mark.parametrize(
    "readings",
    [
        [],
        [read(100.0, 12.0)],
        [read(100.0, 12.0), read(101.0, 13.0)],  # within what a hydrometer does
        [read(40.0, 40.0), read(60.0, 25.0)],  # a beer in full ferment
        [read(100.0, 14.0), read(100.0, 11.0, "refractometer", 2.0)],
        [read(100.0, 11.0), read(148.0, 16.0)],  # not within a day: the trend judges that
        [read(100.0, 26.0), read(100.1, 11.0), read(101.0, 11.5)],  # a third one settled it
    ],
)
def test_they_may_both_be_right(readings: list[HandReading]) -> None:
    assert contradiction(readings) is None
