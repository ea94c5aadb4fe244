"""The thread that reads the store, so that no screen ever waits for a disk."""

from collections.abc import Callable
from threading import Event, Thread

from fermwatch.clock import Clock
from fermwatch.contracts.feed import Feed
from fermwatch.dashboard.live import ReadingFailed, SnapshotRead
from fermwatch.errors import FermwatchError
from fermwatch.saying.voice import zone_of

POLL_S = 1.0
RETRY_S = 3.0
# Ages grow, and a watcher falls silent, without anything being written.
READ_ANYWAY_S = 5.0

Tell = Callable[[SnapshotRead | ReadingFailed], object]


class Reader:
    """Opens the feed in its own thread, reads it when it has changed, and tries again where it cannot."""

    def __init__(self, open_feed: Callable[[], Feed], clock: Clock, tell: Tell) -> None:
        self._open_feed, self._clock, self._tell = open_feed, clock, tell
        self._stopping = Event()
        self._thread = Thread(target=self._run, name="store-reader", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Ask it to end; it is not waited for, since a hanging disk must not hold the terminal."""
        self._stopping.set()

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                self._read_on()
            except FermwatchError as error:
                self._report(ReadingFailed(error.message, error.hint))
            except Exception as error:  # noqa: BLE001 - a defect in reading must be seen on the screen, not end it
                self._report(ReadingFailed(f"The store cannot be read: {type(error).__name__}: {error}."))
            self._stopping.wait(RETRY_S)

    def _read_on(self) -> None:
        feed = self._open_feed()
        try:
            read_at = -READ_ANYWAY_S
            first = True
            while not self._stopping.is_set():
                changed = feed.changed()
                if first or changed or self._clock.monotonic_s() - read_at >= READ_ANYWAY_S:
                    first, read_at = False, self._clock.monotonic_s()
                    snapshot = feed.snapshot(self._clock.now())
                    zone_of(snapshot.timezone)  # read here, so that drawing reads no file
                    self._report(SnapshotRead(snapshot))
                self._stopping.wait(POLL_S)
        finally:
            feed.close()

    def _report(self, event: SnapshotRead | ReadingFailed) -> None:
        if not self._stopping.is_set():
            self._tell(event)
