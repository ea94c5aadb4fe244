import pytest

from fermwatch.judgement.stillness import Decline


@pytest.mark.parametrize(
    ("decline", "said"),
    [
        (Decline(1.6, 1.7), "falling 1.6 points a day (90 % sure: from rising 1.2 to falling 4.4)"),
        (Decline(1.6, 0.7), "falling 1.6 points a day (90 % sure: between 0.4 and 2.8)"),
        (Decline(-0.5, 0.1), "rising 0.50 points a day (90 % sure: between 0.34 and 0.66)"),
        (Decline(2.4, 8.0), "falling 2 points a day (90 % sure: from rising 11 to falling 16)"),
    ],
)
def test_a_decline_is_said_with_its_range_and_no_more_digits_than_it_has(decline: Decline, said: str) -> None:
    assert str(decline) == said
