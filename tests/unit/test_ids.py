"""Identifiers that sort by time."""

import random

import pytest

from fermwatch.ids import ALPHABET, is_ulid, new_ulid


def test_they_sort_by_their_instant_whatever_chance_says() -> None:
    chance = random.Random(1)
    instants = sorted(chance.randrange(2**48) for _ in range(500))
    made = [new_ulid(at_ms, chance.randbytes(10)) for at_ms in instants]
    assert made == sorted(made)
    assert all(is_ulid(one) for one in made)


def test_the_layout_is_that_of_the_ulid_specification() -> None:
    # The specification's own example of a timestamp: 1469918176385 ms is 01ARYZ6S41.
    assert new_ulid(1_469_918_176_385, bytes(10)) == "01ARYZ6S41" + "0" * 16
    assert new_ulid(2**48 - 1, b"\xff" * 10) == "7" + "Z" * 25


@pytest.mark.parametrize("text", ["", "01ARYZ6S41", "8" + "Z" * 25, "01aryz6s41" + "0" * 16, "U" * 26])
def test_what_is_none_is_known(text: str) -> None:
    assert not is_ulid(text)


def test_ten_random_bytes_are_wanted() -> None:
    with pytest.raises(ValueError, match="10 random bytes"):
        new_ulid(0, b"short")
    assert len(set(ALPHABET)) == 32
