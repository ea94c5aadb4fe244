"""What comes in is committed, and only then remembered: nothing is judged that is not stored."""

from fermwatch.contracts.store import Appended, Writer
from fermwatch.ingest.pipeline import Intake


class Recorder:
    """Commits readings."""

    def __init__(self, store: Writer) -> None:
        self._store = store

    def commit(self, intake: Intake) -> Appended:
        """StoreError where it could not be committed; tried again, it is stored once."""
        if intake.last_known:  # first, since done twice it is done once, and readings are not
            self._store.set_last_known(intake.last_known)
        return self._store.append(intake.readings) if intake.readings else Appended(0, 0)
