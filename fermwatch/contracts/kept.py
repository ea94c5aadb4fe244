"""What a store says of its own keeping: what it took in, what it cannot read, and how much room there is."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Misread:
    """A row that was passed over: what it is ("event"), by which name, and why. newer: a newer version wrote it."""

    what: str
    identity: str
    why: str
    newer: bool = False

    @property
    def text(self) -> str:
        told = "is of a newer version of fermwatch, and is passed over" if self.newer else "cannot be read"
        return f"the {self.what} {self.identity} {told}: {self.why}"


@dataclass(frozen=True, slots=True)
class StoreRoom:
    """How large the store is, and how much room is left for it. free_bytes: None where nobody can say."""

    size_bytes: int
    free_bytes: int | None = None


@dataclass(frozen=True, slots=True)
class Appended:
    stored: int
    duplicates: int
