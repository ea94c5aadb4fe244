"""The thread that reads the store, so that no screen ever waits for a disk, and what can be asked of it."""

from collections.abc import Callable, Iterable, Mapping
from threading import Event, Thread

from fermwatch.clock import Clock
from fermwatch.contracts.feed import LASTING, Feed, Query
from fermwatch.dashboard.events import Answered, ReadingFailed, SnapshotRead
from fermwatch.errors import FermwatchError
from fermwatch.saying.voice import zone_of

POLL_S = 1.0
SELDOM_S = 10.0  # where each byte that is sent counts
POLL_QUICK_S = 0.2  # while somebody waits for what comes of a request
RETRY_S = 3.0
REST_S = 0.3
# Ages grow, and a watcher falls silent, without anything being written.
READ_ANYWAY_S = 5.0

TellEvent = Callable[[SnapshotRead | Answered | ReadingFailed], object]


class Channel:
    """Opens the feed in its own thread, reads it when it has changed, and tries again where it cannot.

    What is wanted beyond the snapshot is read at once, and again whenever the store has changed, but for what lasts. Of
    each kind of query the newest alone counts: what is wanted no more when its turn comes is never read.
    """

    def __init__(self, open_feed: Callable[[], Feed], clock: Clock, tell: TellEvent, *, poll_s: float = POLL_S) -> None:
        self._open_feed, self._clock, self._tell, self._poll_s = open_feed, clock, tell, poll_s
        self._stopping, self._wake = Event(), Event()
        self._wanted: Mapping[type[Query], Query] = {}  # put in place whole, so that no lock is needed
        self._quick = False
        self._thread = Thread(target=self._run, name="store-reader", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Ask it to end; it is not waited for, since a hanging disk must not hold the terminal."""
        self._stopping.set()
        self._wake.set()

    def want(self, queries: Iterable[Query], *, quick: bool = False) -> None:
        """From now on these are answered, and no others; quick: somebody waits. It waits for nothing itself."""
        wanted: dict[type[Query], Query] = {type(query): query for query in queries}
        if (wanted, quick) != (self._wanted, self._quick):
            self._wanted, self._quick = wanted, quick
            self._wake.set()

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
            answered: dict[type[Query], Query] = {}
            first = True
            while not self._stopping.is_set():
                self._wake.clear()
                changed = feed.changed()
                if first or changed or self._clock.monotonic_s() - read_at >= READ_ANYWAY_S:
                    first, read_at = False, self._clock.monotonic_s()
                    answered = {kind: one for kind, one in answered.items() if kind in LASTING}
                    snapshot = feed.snapshot(self._clock.now())
                    zone_of(snapshot.timezone)  # read here, so that drawing reads no file
                    self._report(SnapshotRead(snapshot))
                self._answer(feed, answered)
                self._wake.wait(POLL_QUICK_S if self._quick else self._poll_s)
        finally:
            feed.close()

    def _answer(self, feed: Feed, answered: dict[type[Query], Query]) -> None:
        """What is wanted and not answered yet; a query that came meanwhile takes the place of the one before it."""
        for kind in tuple(self._wanted):
            query = self._wanted.get(kind)
            if query is not None and answered.get(kind) != query and not self._stopping.is_set():
                if kind in LASTING and kind in answered and not self._rests():
                    return
                answered[kind] = query
                self._report(Answered(feed.answer(query, self._clock.now())))

    def _rests(self) -> bool:
        """Whether nothing else is wanted for a moment: what costs much is not answered key by key."""
        self._wake.clear()
        return not self._wake.wait(REST_S)

    def _report(self, event: SnapshotRead | Answered | ReadingFailed) -> None:
        if not self._stopping.is_set():
            self._tell(event)
