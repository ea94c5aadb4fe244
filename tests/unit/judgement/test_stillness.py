import pytest

from fermwatch.judgement.stillness import Decline
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
    ],
)
def test_a_rate_is_said_with_its_range_and_one_inside_its_noise_is_none(decline: Decline, said: str) -> None:
    assert plain(str(decline)) == said
