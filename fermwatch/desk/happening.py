"""What was done to a batch or seen of it, before it is stored: what to mind, and what speaks against it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.brewing.bottle_store import packaged_beer
from fermwatch.brewing.too_early import CHILLED, told_days
from fermwatch.contracts.store import Reader
from fermwatch.desk import declaring, planning, warm_sample
from fermwatch.judgement.facts import facts_of, happening_of
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.event_data import OPENED
from fermwatch.model.intent import TOLERANCE_C, meant_by
from fermwatch.requests.sayings import check_where_it_is
from fermwatch.requests.shapes import Happened
from fermwatch.saying import words

# Each of the others changes what may be concluded, and is asked about before it is stored.
ASKS_NOBODY = {
    EventKind.OBSERVATION,
    EventKind.NOTE,
    EventKind.REST,
    EventKind.RAMP,
    EventKind.BACK_TO_RANGE,
    EventKind.PLAN,
}

MEANS_A_RANGE = {EventKind.REST, EventKind.RAMP, EventKind.CRASH, EventKind.BACK_TO_RANGE}


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
    minded = [*(cautions or declaring.cautions(reader, batch, event, now)), *_of_calm(reader, batch, event)]
    minded += _beside_a_plan(reader, batch, event, now)
    if warm_sample.failed((event,)) is not None:
        minded.append(warm_sample.again_words(event))
    return Noted(batch, event, tuple(minded), tuple(_doubts(reader, batch, event)))


def _beside_a_plan(reader: Reader, batch: Batch, event: Event, now: datetime) -> Iterator[str]:
    """What a plan wants, where somebody means something else beside it: it goes on, and whoever follows it."""
    if event.kind not in MEANS_A_RANGE or (plan := planning.under_way(reader, batch, now)) is None:
        return
    meant, wants_c = meant_by(event), plan.set_point_c(now)
    if wants_c is None or (meant is not None and abs(meant.target_c - wants_c) <= TOLERANCE_C):
        return
    other = "" if meant is None else f"; or fermwatch plan change {batch.vessel}, with other steps"
    yield (
        f"Its plan wants {temperature(wants_c)} all the same, and a controller that was armed goes by the plan. To end "
        f"it: fermwatch plan stop {batch.vessel}{other}."
    )


def _doubts(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    yield from declaring.doubts(reader, batch, event)
    if event.kind is EventKind.FORCED_FERMENT:
        yield from _against_forced(reader, batch, event)
    if event.at < batch.pitched_at:
        yield f"That is before {batch.name} was pitched."
    if event.data.get("what") == OPENED and event.data.get("gushed") is False:
        yield from _against_calm(batch, event)


def _against_calm(batch: Batch, event: Event) -> Iterator[str]:
    """Why that it was calm would show nothing: it cannot have stood in the cold, or so long in the warmth before."""
    since = batch.packaged_at
    if since is None:
        return
    stood, warm = event.at - since, timedelta(days=told_days(event, since))
    only = f"{batch.name} had been in its package for {words.age(stood.total_seconds())} only"
    if stood < CHILLED:
        yield (
            f"{only}, and one is opened cold after a day in the cold: before that it shows nothing that it was calm."
        )
    elif warm and stood - warm < CHILLED:
        yield f"{only}: that leaves no day in the cold after so long in the warmth."


def _of_calm(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    """What a calm bottle shows of the others, while they may burst."""
    if event.data.get("what") != OPENED or event.data.get("gushed") is not False:
        return
    peril = packaged_beer(reader, batch, event.at, and_said=(event,)).conditioning.peril
    if peril is None:
        return
    if peril.gushed:
        yield "One gushed before, and the others are as full: vent every cap first. Until then this shows nothing."
    elif event.data.get("warm_days") is None:
        yield (
            "Of one that was kept cold this shows nothing: yeast sleeps there, and ferments later. Where did it stand "
            f"before? If warm, at about {temperature(peril.proof_c, None)}, say for how long: --after-warm "
            f"{peril.proof_days:.0f}d."
        )
    else:
        yield f"The others may burst all the same: it takes {peril.proof_days:.0f} days of warmth to show anything."


def _against_forced(reader: Reader, batch: Batch, event: Event) -> Iterator[str]:
    """Why a forced ferment would count for nothing."""
    said = sorted((*reader.events(batch.id, strict=False), event), key=lambda one: one.at)
    until = [one for one in said if not one.voided and one.at <= event.at]
    facts = facts_of(batch, (happening_of(one, batch.pitched_at) for one in until))
    if facts.forced_doubt:
        yield f"It does not count. {facts.forced_doubt}"
    elif facts.forced is None:
        yield "A forced ferment shows nothing with this yeast, and does not count."
