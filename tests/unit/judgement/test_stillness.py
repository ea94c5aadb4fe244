import pytest

from fermwatch.judgement.stillness import Decline
from fermwatch.model.amounts import plain


@pytest.mark.parametrize(
    ("decline", "said"),
    [
        (Decline(1.6, 0.7), "falling 1.6 points a day (90 % sure: 0.4–2.8 points)"),
        (Decline(-0.5, 0.1), "rising 0.50 points a day (90 % sure: 0.34–0.66 points)"),
        (Decline(-0.38, 0.4), "steady (90 % sure: from rising 1.04 points to falling 0.28 points a day)"),
        (Decline(0.05, 0.1), "steady (90 % sure: from rising 0.11 points to falling 0.21 points a day)"),
        (
            Decline(2.4, 8.0),
            "falling or rising, which is not known well (90 % sure: from rising 11 points to falling 16 points a day)",
        ),
    ],
)
def test_a_rate_is_said_with_its_range_and_one_inside_its_noise_is_none(decline: Decline, said: str) -> None:
    assert plain(str(decline)) == said
