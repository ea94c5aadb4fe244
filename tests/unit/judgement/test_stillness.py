import pytest

from fermwatch.judgement.stillness import Decline, HandReading, decline_by_hand
from fermwatch.model.amounts import plain


@pytest.mark.parametrize(
    ("decline", "said"),
    [
        (Decline(1.6, 0.7), "falling about 2 points/day"),
        (Decline(7.2, 0.4), "falling 7–8 points/day"),
        (Decline(-0.5, 0.1), "steady (within 0.66 points/day)"),  # a probe that settles: beer does not rise
        (Decline(-0.9, 0.5), "not falling"),
        (Decline(-3.0, 0.5), "rising 2–4 points/day"),
        (Decline(-0.38, 0.4), "steady (within 1.0 points/day)"),
        (Decline(0.05, 0.1), "steady (within 0.21 points/day)"),
        (Decline(2.4, 8.0), "rate not known"),
        (Decline(-1.9, 1.2), "rate not known"),
    ],
)
def test_a_rate_is_said_with_its_range_and_one_inside_its_noise_is_none(decline: Decline, said: str) -> None:
    assert plain(str(decline)) == said


def test_two_readings_within_a_minute_tell_no_pace_however_old_another_instruments_is() -> None:
    """Falling 1249080 points a day: a hydrometer's reading of days before lent its span to a refractometer's two."""
    old = HandReading("a", 24.0, 30.0, 0.5, True)
    first = HandReading("b", 120.0, 15.0, 2.0, False, "refractometer")
    again = HandReading("c", 120.02, 11.0, 2.0, False, "refractometer")
    assert decline_by_hand([old, first, again], 0.3) is None


def test_readings_of_one_instrument_days_apart_tell_a_pace_whatever_is_read_beside_them() -> None:
    readings = [
        HandReading("a", 24.0, 30.0, 0.5, True),
        HandReading("b", 120.0, 14.0, 2.0, False, "refractometer"),
        HandReading("c", 120.0, 22.0, 0.5, True),
    ]
    told = decline_by_hand(readings, 0.3)
    assert told is not None
    assert told.points_per_day == pytest.approx(2.0)
