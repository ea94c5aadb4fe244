"""What can hurt somebody in what this batch is or becomes, and only that."""

from collections.abc import Iterator
from dataclasses import replace

from fermwatch.report.story import WholeStory
from fermwatch.saying.in_package import too_early_words
from fermwatch.saying.voice import Voice
from fermwatch.science import packages
from fermwatch.science.packages import PACKAGES

CO2_OF_FERMENTING = (
    "Fermenting beer gives off CO2, which is heavier than air and fills a closed room or a chest freezer: ventilate, "
    "and keep your head out."
)
CO2_OF_A_CYLINDER = (
    "CO2 from a cylinder fills a closed room: ventilate it, and keep your head out of a chest freezer. Stay below the "
    "rating stamped on the keg."
)
MAINS = (
    "Fridge, heat and controller are on the mains, near liquid: residual-current protection, drip loops, nothing "
    "home-made with mains in it. Local codes go over this page; such work belongs to a licensed electrician."
)


def is_dangerous(story: WholeStory) -> bool:
    """Whether what there is to be careful of comes before all else."""
    return story.packaged is not None and story.packaged.conditioning.peril is not None


def cautions(story: WholeStory, voice: Voice) -> Iterator[str]:
    packaged = story.packaged
    if packaged is not None:
        yield from too_early_words(replace(packaged, alarms=()), voice)  # on paper nothing else says it
    kind = "" if packaged is None else packaged.packaging.kind
    meant = kind or ("" if story.batch.package is None else story.batch.package.kind)
    known = PACKAGES.get(meant)
    if known is not None and known.relief_valve:
        yield CO2_OF_A_CYLINDER
    elif known is not None or packaged is not None:
        yield packages.CAUTION
    if story.batch.in_fermenter:
        yield CO2_OF_FERMENTING
    if story.lane.controllers or story.curves.set_point or story.curves.cool or story.curves.heat:
        yield MAINS
