"""What a backup holds, and what became of the store that it took the place of."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Contents:
    """How much a store or a backup of it holds. until: its newest reading; None where it has none."""

    schema: int
    readings: int
    batches: int
    measurements: int
    events: int
    journal: int
    until: datetime | None = None

    @property
    def anything(self) -> bool:
        """Whether something would be lost with it: what a watcher writes at each start is nothing."""
        return bool(self.readings or self.batches or self.measurements or self.events)


@dataclass(frozen=True, slots=True)
class Restored:
    """kept_aside: where what lay there before lies now; empty where there was nothing."""

    contents: Contents
    kept_aside: str = ""
