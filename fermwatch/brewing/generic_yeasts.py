"""A kind of the yeast catalogue as the yeast of a batch: where commands and batch files name a kind alone."""

from fermwatch.model.yeast import Yeast
from fermwatch.science.yeasts import yeast_named


def generic_yeast(slug: str) -> Yeast:
    """The kind's own figures. InputError, naming what there is, where the slug is none."""
    kind = yeast_named(slug)
    return Yeast(
        kind.slug,
        kind.name,
        *kind.temperature_c,
        *kind.attenuation,
        lag_max_h=kind.longest_lag_h,
        alcohol_tolerance_abv=kind.alcohol_tolerance_abv,
        diastatic=kind.diastatic,
        bottom_fermenting=kind.lager,
        maltose_negative=kind.maltose_negative,
    )
