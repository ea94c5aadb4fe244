"""Beer that is in its package already: nothing said afterwards changes what went into it."""

from fermwatch.commands.batches.package_words import kind_name
from fermwatch.commands.site import Site
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.presentation import words


def packaging_of(site: Site, batch: Batch) -> Event | None:
    """The event of its packaging; None where it is in the fermenter yet."""
    done = [event for event in site.reader.events(batch.id) if event.kind is EventKind.PACKAGED and not event.voided]
    return done[-1] if done else None


def was_packaged(site: Site, batch: Batch, event: Event) -> str:
    """`Harvest Ale was packaged today 19:30 already, returnable glass bottle, 2.4 volumes`, as far as is known."""
    kind, volumes = event.data.get("package"), event.data.get("volumes")
    into = f", {kind_name(kind)}" if isinstance(kind, str) else ""
    lively = f", {volumes:g} volumes" if isinstance(volumes, float) else ""
    return f"{batch.name} was packaged {words.moment(event.at, site.now, site.voice)} already{into}{lively}"


def was_it_a_slip(event: Event) -> str:
    return f"Was that a slip? Void it first: fermwatch note void {event.id}"
