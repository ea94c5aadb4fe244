"""What there is to say of a controller that may be written to."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.store import JournalEntry
from fermwatch.model.degree import Degree


@dataclass(frozen=True, slots=True)
class ControllerFacts:
    """name: its source's. degree, by, since: how far somebody let fermwatch go. at_most: as the configuration allows.

    set_point_c: as a probe heard it within the hour. written: what was written last, the newest first.
    """

    name: str
    vessel: str
    degree: Degree
    by: str
    since: datetime | None
    at_most: Degree
    low_c: float | None
    high_c: float | None
    set_point_c: float | None
    written: tuple[JournalEntry, ...] = ()

    @property
    def written_at(self) -> datetime | None:
        return self.written[0].at if self.written else None
