"""At which temperature a package is judged, in words."""

from fermwatch.judgement.filling import judged_at
from fermwatch.model.batch import Batch
from fermwatch.model.warmest import warmest_of


def judged_words(batch: Batch) -> str:
    """At which temperature its pressure is judged, and why; empty without a package."""
    return "" if batch.package is None else judged_at(warmest_of(batch.package, batch.yeast))
