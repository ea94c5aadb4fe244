"""ULIDs: identifiers that whoever asks makes for itself, and that sort by time (128 bits: 48 of time, 80 of chance)."""

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford's base 32
LENGTH = 26
RANDOM_BYTES = 10


def new_ulid(at_ms: int, randomness: bytes) -> str:
    """A ULID from an instant in milliseconds and ten random bytes (`secrets.token_bytes(10)`)."""
    if len(randomness) != RANDOM_BYTES:
        raise ValueError(f"a ULID takes {RANDOM_BYTES} random bytes, not {len(randomness)}")
    number = int.from_bytes(at_ms.to_bytes(6, "big") + randomness, "big")
    return "".join(ALPHABET[(number >> shift) & 31] for shift in range(125, -1, -5))


def is_ulid(text: str) -> bool:
    return len(text) == LENGTH and text[0] <= "7" and all(character in ALPHABET for character in text)
