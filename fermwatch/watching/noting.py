"""Which sources' states are to be written down: each that moved at once, its counts with the sign of life."""

from collections.abc import Iterator, Sequence

from fermwatch.contracts.store import SourceStatus
from fermwatch.ingest.supervision import Source


class Noting:
    """What of them the store has."""

    def __init__(self, sources: Sequence[Source]) -> None:
        self._sources = sources
        self._noted: dict[str, SourceStatus] = {}

    def forget(self) -> None:
        self._noted.clear()

    def news(self, *, all_of_them: bool) -> Iterator[SourceStatus]:
        for status in [source.status for source in self._sources]:
            before = self._noted.get(status.name)
            moved = before is None or (before.state, before.detail) != (status.state, status.detail)
            if moved or (all_of_them and before != status):
                yield status

    def noted(self, status: SourceStatus) -> None:
        """It is in the store."""
        self._noted[status.name] = status
