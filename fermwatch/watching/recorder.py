"""What comes in is committed, and only then remembered: nothing is judged that is not stored."""

from datetime import datetime

from fermwatch.contracts.kept import Appended
from fermwatch.contracts.store import Writer
from fermwatch.ingest.pipeline import Intake
from fermwatch.model.reading import Reading
from fermwatch.watching.weighing import Weighing


class Recorder:
    """Commits readings, each weighed against what is believed of its probe."""

    def __init__(self, store: Writer) -> None:
        self._store, self._weighing = store, Weighing()

    def recall(self, now: datetime) -> None:
        """Read back what is needed to go on as if never interrupted."""
        self._weighing.recall(self._store, now)

    def commit(self, intake: Intake) -> tuple[Appended, tuple[Reading, ...]]:
        """How many were stored, and the readings with their flags. StoreError where it could not be committed; tried
        again, it is stored once."""
        if intake.last_known:  # first, since done twice it is done once, and readings are not
            self._store.set_last_known(intake.last_known)
        if not intake.readings and not intake.new_sessions:
            return Appended(0, 0), ()
        readings, levels = self._weighing.weighed(intake.readings)
        appended = self._store.append(readings, intake.new_sessions)
        self._weighing.believe(levels)
        return appended, readings
