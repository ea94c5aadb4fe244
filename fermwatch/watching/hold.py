"""The watcher's hold on its site's store: opened, noticed when it is taken away, and taken up again once it is back.

Used in the store's thread alone.
"""

from collections.abc import Callable, Hashable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.config.load import Loaded
from fermwatch.contracts.store import JournalEntry, Store, Writer
from fermwatch.errors import StoreGone
from fermwatch.inbox.receiving import FileInbox, open_inbox
from fermwatch.ingest.conversion import ByChannel
from fermwatch.ingest.pipeline import Intake
from fermwatch.notify.hours import Hours
from fermwatch.saying.voice import units_of, zone_of
from fermwatch.store import open_store
from fermwatch.watching.configured import declare
from fermwatch.watching.logbook import Logbook

SETTLED_S = 2.0  # how long a store that came back must not have grown


@dataclass(frozen=True, slots=True)
class Holdings:
    """What is open while watching."""

    writer: Writer
    inbox: FileInbox
    book: Logbook
    bindings: ByChannel

    def let_go(self) -> None:
        self.inbox.close()
        self.writer.close()


class Hold:
    """Opens what is written to, and reads back what is needed to go on."""

    def __init__(self, loaded: Loaded, now: Callable[[], datetime], judging: Executor, *, begins: bool = True) -> None:
        """judging: where judges do their work, one thing at a time. begins: whether a store may be begun where there
        is none.
        """
        self._loaded, self._now, self._judging, self._begins = loaded, now, judging, begins
        self._held: Holdings | None = None
        self._bound: ByChannel = {}  # what the sources were bound to at the start
        self._renumbered: dict[int, int] = {}  # where another store counts the series differently
        self._store = open_store(loaded.store.as_uri(), loaded.config.site.name)
        self._waiting = _StillGrowing(self._store)

    @property
    def held(self) -> Holdings:
        """StoreGone where nothing is open, since the store was taken away."""
        if self._held is None:
            raise StoreGone("The store is not open.")
        return self._held

    @property
    def store(self) -> Store:
        return self._store

    @property
    def is_open(self) -> bool:
        return self._held is not None

    def open(self) -> Holdings:
        self._held = self._opened(create=self._begins)
        self._bound = self._held.bindings
        return self._held

    def check(self) -> None:
        """StoreGone where the store was taken away."""
        self.held.writer.check_in_place()

    def take_up_again(self, monotonic_s: float) -> bool:
        """Let go of a store that was taken away, and open what lies in its place: never a new one; whether it could.

        StoreError where what lies there cannot be opened.
        """
        if not self._waiting.has_settled(monotonic_s):
            return False
        if self._held is not None:
            before, self._held = self._held, None
            before.let_go()
        held = self._opened(create=False)
        self._renumbered = {one.series: held.bindings[key].series for key, one in self._bound.items()}
        text = "the store was taken away and is back; what was heard meanwhile waited, as far as there was room"
        held.writer.enter([JournalEntry(self._now(), "store", self._loaded.config.site.name, text)])
        self._held = held
        return True

    def let_go(self) -> None:
        if self._held is not None:
            held, self._held = self._held, None
            held.let_go()

    def bound(self, intake: Intake) -> Intake:
        """What was bound to the series of one store, for the one that is open now."""
        numbers = self._renumbered
        if not numbers:
            return intake
        return Intake(
            tuple(replace(one, series=numbers[one.series]) for one in intake.readings),
            tuple(replace(one, series=numbers[one.series]) for one in intake.last_known),
            frozenset(numbers[one] for one in intake.new_sessions),
        )

    def _opened(self, *, create: bool) -> Holdings:
        config, now = self._loaded.config, self._now()
        writer = self._store.writer(now, create=create)
        try:
            inbox = open_inbox(self._loaded.store, config.site.name)
            numbers = declare(writer, config, now)
            book = self._logbook(writer, inbox)
            book.begin(
                now,
                [one.name for one in self._loaded.sources],
                [one.said.source for one in self._loaded.controllers],
                {one.name: one.by for one in self._loaded.notifiers},
            )
        except BaseException:
            writer.close()
            raise
        by_number = {one.series: one for one in writer.series()}
        probes = {one.id: one for one in config.probe}
        bindings = {(probes[slug].source, probes[slug].channel): by_number[number] for slug, number in numbers.items()}
        return Holdings(writer, inbox, book, bindings)

    def _logbook(self, writer: Writer, inbox: FileInbox) -> Logbook:
        config, said = self._loaded.config, self._loaded.config.telling
        return Logbook(
            writer,
            inbox,
            config.rule_settings,
            judging=self._judging,
            hours=Hours(
                zone_of(config.site.timezone),
                said.quiet_from,
                said.quiet_until,
                said.digest_at,
                timedelta(days=said.test_every_days),
            ),
            units=units_of(said.units, what="units"),
        )


class _StillGrowing:
    """What may just be copied into its place is left alone until it has stopped growing."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._seen: Hashable | None = None
        self._since_s = 0.0

    def has_settled(self, now_s: float) -> bool:
        seen = self._store.trace()
        if seen != self._seen:
            self._seen, self._since_s = seen, now_s
        return seen is not None and now_s - self._since_s >= SETTLED_S
