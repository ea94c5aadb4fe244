"""Beer that is in its package already: nothing said afterwards changes what went into it."""

from fermwatch.commands.site import Site
from fermwatch.model.batch import Batch
from fermwatch.model.packaging import Packaging, packaging_of
from fermwatch.saying import words
from fermwatch.saying.in_package import package_words


def packaging_in(site: Site, batch: Batch) -> Packaging | None:
    """How it was packaged; None where it is in the fermenter yet."""
    return packaging_of(site.reader.events(batch.id))


def was_packaged(site: Site, batch: Batch, done: Packaging) -> str:
    """`Harvest Ale was packaged today 19:30 already (returnable glass bottle, 2.4 volumes)`."""
    return f"{batch.name} was packaged {words.moment(done.at, site.now, site.voice)} already ({package_words(done)})"


def was_it_a_slip(done: Packaging) -> str:
    return f"Was that a slip? Void it first: fermwatch note void {done.event_id}"
