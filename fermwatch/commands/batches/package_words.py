"""A package in words: into what, how lively, how it gets so, and how warm it may get."""

from fermwatch.judgement.filling import judged_at
from fermwatch.model import amounts
from fermwatch.model.batch import Batch, PackageChoice
from fermwatch.model.warmest import conditioning_c, warmest_of
from fermwatch.science.packages import PACKAGES


def package_words(batch: Batch, choice: PackageChoice) -> str:
    """`returnable glass bottle, 2.4 volumes, conditions at 20 °C, stands at 8 °C at most`; quantities are marked."""
    limit = "" if choice.limit_bar is None else f", maker's limit {amounts.pressure(choice.limit_bar, None)}"
    way = f", {choice.way}" if choice.way is not None else ""
    kind = PACKAGES.get(choice.kind)
    head = f"{choice.kind if kind is None else kind.name}{way}, {choice.volumes:.3g} volumes"
    stands = amounts.temperature(choice.storage_c, None)
    if choice.forced:
        return f"{head}, at {stands} under its pressure{limit}"
    conditions = amounts.temperature(conditioning_c(choice, batch.yeast), None)
    return f"{head}, conditions at {conditions}, then stands at {stands} at most{limit}"


def judged_words(batch: Batch) -> str:
    """At which temperature its pressure is judged, and why; empty without a package."""
    return "" if batch.package is None else judged_at(warmest_of(batch.package, batch.yeast))
