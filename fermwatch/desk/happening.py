"""What was done to a batch or seen of it, before it is stored: what to mind, and what speaks against it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.store import Reader
from fermwatch.desk import declaring, warm_sample
from fermwatch.judgement.facts import facts_of, happening_of
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.requests.sayings import check_where_it_is
from fermwatch.requests.shapes import Happened

# Each of the others changes what may be concluded, and is asked about before it is stored.
ASKS_NOBODY = {
    EventKind.OBSERVATION,
    EventKind.NOTE,
    EventKind.REST,
    EventKind.RAMP,
    EventKind.BACK_TO_RANGE,
    EventKind.PLAN,
}


@dataclass(frozen=True, slots=True)
class Noted:
    """An event of a batch. cautions, doubts: one sentence or two each; a doubt is answered before it is stored."""

    batch: Batch
    event: Event
    cautions: tuple[str, ...]
    doubts: tuple[str, ...]

    @property
    def asks(self) -> bool:
        """Whether somebody should say yes to it first."""
        return self.event.kind not in ASKS_NOBODY or bool(self.doubts)

    def asked(self) -> Happened:
        return Happened(self.batch.id, self.event)


def noted(reader: Reader, batch: Batch, event: Event, now: datetime, cautions: Sequence[str] = ()) -> Noted:
    """The event beside what the store knows. cautions: those of its kind, in place of what a declared one brings.

    RequestRefused for what cannot be done to beer in its package: nobody minds the cautions of that first.
    """
    check_where_it_is(batch, event)
    minded = [*(cautions or declaring.cautions(reader, batch, event, now))]
    if warm_sample.failed((event,)) is not None:
        minded.append(warm_sample.again_words(event))
    return Noted(batch, event, tuple(minded), tuple(_doubts(reader, batch, event)))


def _doubts(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    yield from declaring.doubts(reader, batch, event)
    if event.kind is EventKind.FORCED_FERMENT:
        yield from _against_forced(reader, batch, event)
    if event.at < batch.pitched_at:
        yield f"That is before {batch.name} was pitched."


def _against_forced(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    """Why a forced ferment would count for nothing."""
    said = sorted((*reader.events(batch.id, strict=False), event), key=lambda one: one.at)
    until = [one for one in said if not one.voided and one.at <= event.at]
    facts = facts_of(batch, (happening_of(one, batch.pitched_at) for one in until))
    if facts.forced_doubt:
        yield f"It does not count. {facts.forced_doubt}"
    elif facts.forced is None:
        yield "A forced ferment shows nothing with this yeast, and does not count."
