"""What was pitched, when, and into what, as labelled rows: for a screen and for text."""

from datetime import datetime

from fermwatch.brewing.attenuation import Expectation, expected
from fermwatch.model import amounts
from fermwatch.model.batch import Batch, Event, GravityOrigin, PackageChoice
from fermwatch.model.warmest import conditioning_c
from fermwatch.saying import words
from fermwatch.saying.voice import Voice
from fermwatch.science.packages import PACKAGES

ORIGIN_WORDS = {
    GravityOrigin.MEASURED: "measured on the full wort",
    GravityOrigin.TOPPED_UP: "measured, then topped up with water",
    GravityOrigin.RECIPE: "from the recipe",
}

Rows = list[tuple[str, str]]


def in_short(batch: Batch, now: datetime, voice: Voice, events: tuple[Event, ...] = ()) -> Rows:
    """As few rows as tell it. events: what was added since counts in where it should end."""
    yeast = batch.yeast
    low, high = expected(batch, events).ends_sg
    ferments = voice.temperature_range(yeast.temperature_low_c, yeast.temperature_high_c)
    package = "" if batch.packaged_at is not None else _package(batch)
    return [
        ("pitched", f"{_pitched(batch, now, voice)}: {volume(batch, voice)}"),
        ("wort", original(batch, voice)),
        ("yeast", f"{kind_of_yeast(batch, voice)}, {ferments}; should end at {voice.gravity_range(low, high)}"),
        ("meant for", voice.text(package, 300)),
        ("notes", voice.text(batch.notes, 500)),
    ]


def rows(batch: Batch, now: datetime, voice: Voice, events: tuple[Event, ...], judged: str) -> Rows:
    """All that was said. judged: at which temperature its pressure is judged, and why."""
    expectation = expected(batch, events)
    low, high = expectation.ends_sg
    return [
        ("batch", f"{voice.text(batch.name)}{' in' if batch.in_fermenter else ', out of'} {voice.text(batch.vessel)}"),
        ("identity", batch.id),
        ("pitched", when(batch, now, voice)),
        ("original", original(batch, voice)),
        ("expected end", voice.gravity_range(low, high)),
        ("volume", volume(batch, voice)),
        ("yeast", kind_of_yeast(batch, voice)),
        ("range", _range(batch, voice)),
        ("attenuation", _attenuation(batch, expectation)),
        ("adjuncts", voice.text(_adjuncts(batch))),
        ("package", "" if batch.packaged_at is not None else voice.text(_package(batch))),
        ("judged at", voice.text(judged)),
        ("rules", ", ".join(f"{name} {number:g}" for name, number in batch.rule_settings.items())),
        ("notes", voice.text(batch.notes)),
    ]


def when(batch: Batch, now: datetime, voice: Voice) -> str:
    """Pitched, and since it has left: packaged and ended."""
    said = f"{words.moment(batch.pitched_at, now, voice)} ({words.beer_day(batch.pitched_at, now, voice)})"
    if batch.packaged_at is not None:
        said += f", packaged {words.moment(batch.packaged_at, now, voice)}"
    return said if batch.ended_at is None else f"{said}, ended {words.moment(batch.ended_at, now, voice)}"


def _pitched(batch: Batch, now: datetime, voice: Voice) -> str:
    """Its day counts while it is in the fermenter."""
    if batch.left_fermenter_at is None:
        return when(batch, now, voice)
    local = voice.local(batch.pitched_at)
    day = words.beer_day(batch.pitched_at, batch.left_fermenter_at, voice)
    return f"{local.day} {local:%b %Y}, out of the fermenter on {day}"


def original(batch: Batch, voice: Voice) -> str:
    origin = batch.original_origin
    spread = voice.gravity_spread(origin.sd_points)
    return f"{voice.gravity_beside_plato(batch.original_sg)}, {ORIGIN_WORDS[origin]} by {batch.original_by}, {spread}"


def volume(batch: Batch, voice: Voice) -> str:
    beer, share = amounts.volume(batch.volume_l), batch.headspace
    if share is None or batch.fermenter_volume_l is None:
        return voice.text(beer)
    return voice.text(f"{beer} in {amounts.volume(batch.fermenter_volume_l)}, headspace {share:.0%}")


def kind_of_yeast(batch: Batch, voice: Voice) -> str:
    yeast = batch.yeast
    marks = {"diastatic": yeast.diastatic, "bottom fermenting": yeast.bottom_fermenting}
    traits = [mark for mark, holds in marks.items() if holds]
    name = yeast.name if yeast.name == yeast.kind or not yeast.kind else f"{yeast.name} ({yeast.kind})"
    return voice.text(", ".join([name, *traits]))


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


def _range(batch: Batch, voice: Voice) -> str:
    yeast = batch.yeast
    within = voice.temperature_range(yeast.temperature_low_c, yeast.temperature_high_c)
    return f"{within}, first signs within {yeast.lag_max_h:g} h"


def _attenuation(batch: Batch, expectation: Expectation) -> str:
    yeast = batch.yeast
    own = f"{yeast.attenuation_low:.0%}–{yeast.attenuation_high:.0%}"
    said = f"{own} apparent"
    if expectation.corrected:
        here = f"{expectation.low:.0%}–{expectation.high:.0%}"
        said = f"{here} apparent, counting what is in it beside malt ({own} of malt alone)"
    return f"{said}, tires at {yeast.alcohol_tolerance_abv:g} % by volume"


def _package(batch: Batch) -> str:
    if batch.package is None:
        return "none chosen: until there is one, nothing is declared safe to package"
    return package_words(batch, batch.package)


def _adjuncts(batch: Batch) -> str:
    return ", ".join(f"{name} {amounts.dose(grams, None)}" for name, grams in batch.extract_adjuncts_g_per_l.items())
