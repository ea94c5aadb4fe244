"""What carrying out a request needs of a store: everything within the one transaction that also keeps the outcome."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.finding import Alarm
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Reading


class Ledger(Protocol):
    """One site's book, open for one request."""

    def batch(self, batch_id: str) -> Batch | None: ...
    def keep_batch(self, batch: Batch) -> None: ...
    def has_vessel(self, vessel: str) -> bool:
        """Whether the configuration names it."""

    def batch_in(self, vessel: str) -> Batch | None:
        """The beer that is in a fermenter now."""

    def packaged_out_of(self, vessel: str, at: datetime) -> tuple[Batch, ...]:
        """Packaged batches that were still in it at an instant."""

    def packaged_by(self, event: str) -> Batch | None:
        """The batch that an event says was packaged; None for any other event."""

    def is_voided(self, identity: str) -> bool | None:
        """Of a measurement or an event; None where there is none."""

    def said_of(self, batch_id: str) -> int:
        """How many measurements and events of it there are, voided ones too."""

    def add_measurement(self, batch_id: str, measurement: GravityMeasurement) -> None: ...
    def add_event(self, batch_id: str, event: Event) -> None: ...
    def void(self, identity: str, reason: str) -> None: ...
    def series_of(self, vessel: str, quantity: Quantity) -> int | None:
        """Under which number the readings of a fermenter's first probe of a quantity are kept."""

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """How many of them were not there yet."""

    def alarm(self, rule: str, subject: str) -> Alarm | None: ...
    def keep_alarm(self, alarm: Alarm) -> None: ...


@dataclass(frozen=True, slots=True)
class Who:
    """Who asks, as one cleaned line, and the deciding instant at which it is carried out."""

    user: str
    now: datetime


@dataclass(frozen=True, slots=True)
class Done:
    """What was done, for the journal: about what, and in words."""

    subject: str
    text: str
    is_news: bool = True  # False for what is not worth a line in the journal
