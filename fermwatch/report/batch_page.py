"""A batch on one page of HTML that needs nothing beside it: no script, no link, no picture from elsewhere."""

from collections.abc import Iterator
from importlib import resources

import fermwatch
from fermwatch.brewing.attenuation import attenuated, original_sg_at
from fermwatch.errors import OutOfDomain
from fermwatch.model.amounts import dose, pressure, temperature, volume
from fermwatch.model.batch import BRINGS_EXTRACT
from fermwatch.model.finding import Evidence, VerdictKind
from fermwatch.model.packaging import as_packaged
from fermwatch.model.warmest import warmest_of
from fermwatch.report import page_tables
from fermwatch.report.cautions import cautions, is_dangerous
from fermwatch.report.elements import Element, element, written
from fermwatch.report.hindsight import Ended, last_gravity
from fermwatch.report.page_tables import LONGEST, NumberedMarks, day, when
from fermwatch.report.picture import picture
from fermwatch.report.story import WholeStory
from fermwatch.saying import in_package, words
from fermwatch.saying.marks import marks
from fermwatch.saying.voice import Voice
from fermwatch.science.alcohol import abv_from_gravity, abv_uncertainty, real_attenuation
from fermwatch.science.extract import sg_to_plato

LONGEST_CAUTION = 1500  # characters: it is told whole
NO_OUTSIDE = "default-src 'none'; style-src 'unsafe-inline'"


def batch_page(story: WholeStory, voice: Voice) -> str:
    """The whole document. `voice` says numbers and times as the reader wants them."""
    found = NumberedMarks.of(marks(story.lane, story.curves, story.journal, story.now, voice))
    name = voice.text(story.batch.name)
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", **{"http-equiv": "Content-Security-Policy", "content": NO_OUTSIDE}),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", name),
        _style(),
    )
    careful = _section("Be careful", _cautions(story, voice))
    body = element(
        "body",
        *_head(story, name, voice),
        *(careful if is_dangerous(story) else []),
        picture(story, found, voice),
        _key(story),
        *_section("What happened", page_tables.of_marks(found, story, voice)),
        *_section("Measured by hand", page_tables.of_measurements(found, story, voice)),
        *_section("Alarms, and how long they stood", page_tables.of_alarms(story, voice)),
        *_section("The forecast, in hindsight", page_tables.of_hindsight(story, voice)),
        *_section("The verdict", _verdict(story, voice)),
        *_section("In the package", _packaged(story, voice)),
        *_section("Notes and tasting", page_tables.of_notes(found, story, voice)),
        *([] if is_dangerous(story) else careful),
        _foot(story, voice),
    )
    return written(element("html", head, body, lang="en"))


def _style() -> Element:
    style = element("style")
    style.text = " ".join(resources.files("fermwatch.report").joinpath("page.css").read_text(encoding="utf-8").split())
    return style


def _section(title: str, content: list[Element]) -> list[Element]:
    return [element("h2", title), *content] if content else []


def _head(story: WholeStory, name: str, voice: Voice) -> Iterator[Element]:
    batch = story.batch
    dated = [("pitched", batch.pitched_at), ("packaged", batch.packaged_at), ("ended", batch.ended_at)]
    parts = [voice.text(batch.yeast.name), voice.text(volume(batch.volume_l)), voice.text(story.lane.vessel.name)]
    parts += [f"{what} {day(at, voice)}" for what, at in dated if at is not None]
    yield element("h1", name)
    yield element("p", voice.dot.join(parts), **{"class": "dim"})
    if batch.notes:
        yield element("p", voice.text(batch.notes, LONGEST))
    pairs = [
        element("div", element("dt", label), element("dd", value, " ", element("small", beside)))
        for label, value, beside in _figures(story, voice)
    ]
    yield element("dl", *pairs, **{"class": "figures"})


def _figures(story: WholeStory, voice: Voice) -> Iterator[tuple[str, str, str]]:
    """What it came to: label, number, and what must be said beside it."""
    batch, last = story.batch, story.ended or last_gravity(story.lane.judgement, story.lane.measurements)
    spread = voice.gravity_spread(batch.original_origin.sd_points)
    yield "original gravity", voice.gravity(batch.original_sg), f"{batch.original_origin}, {spread}"
    if last is None:
        return
    original_sg = original_sg_at(batch, story.lane.events, last.at)
    label = "final gravity" if story.ended else "gravity now"
    yield label, voice.gravity(last.gravity_sg), f"{last.by}, {day(last.at, voice)}"
    share = attenuated(original_sg, last.gravity_sg)
    if share is not None and share >= 0.0:
        yield "attenuation", f"{share:.0%}", f"apparent{_real(original_sg, last)}"
    try:
        alcohol, sd = abv_from_gravity(original_sg, last.gravity_sg), abv_uncertainty(original_sg, last.gravity_sg)
    except OutOfDomain:
        return
    sugar = any(one.kind in BRINGS_EXTRACT and not one.voided and one.at <= last.at for one in story.lane.events)
    counted = ", counting the sugar added" if sugar else ""
    yield "alcohol", f"{float(alcohol):.1f} %", f"by volume, ±{2 * sd:.1f}{counted}"


def _real(original_sg: float, last: Ended) -> str:
    try:
        return f", {float(real_attenuation(sg_to_plato(original_sg), sg_to_plato(last.gravity_sg))):.0f}% real"
    except OutOfDomain:
        return ""


def _key(story: WholeStory) -> Element:
    """What the lines of the picture are; of those alone that are in it."""
    there = [
        ("warm", "beer", bool(story.curves.beer)),
        ("band", "where it should be, and where it should end", True),
        ("set", "set point", bool(story.curves.set_point)),
        ("sweet", "gravity probe, as it reads", bool(story.curves.gravity)),
        ("hand", "by hand, with its uncertainty", bool(story.lane.measurements)),
        ("alarm", "alarms, as long as they stood", bool(story.standings)),
        ("guess", "forecast", bool(story.past_forecasts) or story.batch.in_fermenter),
    ]
    shown = [element("span", element("i", **{"class": kind}), text) for kind, text, is_there in there if is_there]
    return element("div", *shown, **{"class": "key"})


def _verdict(story: WholeStory, voice: Voice) -> list[Element]:
    verdict = None if story.lane.judgement is None else story.lane.judgement.verdict
    if verdict is None:
        return []
    keg = story.packaged is not None and story.packaged.packaging.in_keg
    kind = words.verdict_words(verdict.kind, keg=keg)
    told = f"On the day it was packaged: {kind}."
    if story.batch.packaged_at is None:
        told = voice.text(verdict.sentence, LONGEST) or f"{kind[:1].upper()}{kind[1:]}."
    said = [element("p", told)]
    evidence = [
        element("li", _tick(one, verdict.kind) + voice.text(one.statement, LONGEST)) for one in verdict.evidence
    ]
    return [*said, element("ul", *evidence, **{"class": "two"})] if evidence else said


def _tick(one: Evidence, kind: VerdictKind) -> str:
    """What lapsed under a verdict of safe was met when it was found."""
    return "✓ " if one.met else "✓ when it was found safe; later: " if kind is VerdictKind.SAFE else "✗ "


def _packaged(story: WholeStory, voice: Voice) -> list[Element]:
    one = story.packaged
    if one is None:
        return []
    packaging = one.packaging
    parts = [in_package.held_words(one), f"on {day(packaging.at, voice)}"]
    if packaging.sugar_g_per_l is not None:
        parts.append(f"{dose(packaging.sugar_g_per_l)} of sugar" if packaging.sugar_g_per_l > 0.0 else "no sugar")
    if packaging.pressure_bar is not None:
        parts.append(f"under {pressure(packaging.pressure_bar)}")
    if packaging.storage_c is not None:
        parts.append(f"to stand at {temperature(packaging.storage_c, None)} at most")
    told = f"{', '.join(parts)}."
    said = [element("p", voice.text(told[:1].upper() + told[1:], LONGEST))]
    if story.batch.ended_at is None:
        dates = in_package.dates_words(one, story.now, voice)
        said += [element("p", voice.text(text, LONGEST)) for text in dates]
    return [element("div", element("div", *said), _label(story, voice), **{"class": "packed"})]


def _label(story: WholeStory, voice: Voice) -> Element:
    """What is cut out and put on a bottle or a keg."""
    lines = [element("strong", voice.text(story.batch.name))]
    alcohol = next((value for label, value, _ in _figures(story, voice) if label == "alcohol"), "")
    strong, one = [f"{alcohol} by volume"] if alcohol else [], story.packaged
    lines.append(element("p", voice.dot.join([*strong, f"from {voice.gravity(story.batch.original_sg)}"])))
    if one is not None:
        lines.append(element("p", voice.text(in_package.held_words(one))))
        known = one.conditioning
        filled = "kegged" if one.packaging.in_keg else "bottled"
        dated = [(filled, one.packaging.at), ("open from", known.open_at), ("best until about", known.best_until)]
        lines.append(element("p", voice.dot.join(f"{what} {day(at, voice)}" for what, at in dated if at is not None)))
        if known.peril is not None:
            danger = "MAY BE TOO FULL" if one.packaging.in_keg else "MAY BURST"
            lines.append(element("p", f"{danger}: keep it cold", **{"class": "caution"}))
        elif (choice := as_packaged(story.batch, one.packaging).package) is not None and not one.packaging.forced:
            below_c = warmest_of(choice, story.batch.yeast).temperature_c
            lines.append(element("p", voice.text(f"store below {temperature(below_c, None)}")))
    return element("div", *lines, **{"class": "label"})


def _cautions(story: WholeStory, voice: Voice) -> list[Element]:
    return [element("p", voice.text(one, LONGEST_CAUTION), **{"class": "caution"}) for one in cautions(story, voice)]


def _foot(story: WholeStory, voice: Voice) -> Element:
    zone = voice.local(story.now).tzname() or "UTC"
    told = f"{voice.text(story.site)}, as of {when(story.now, voice)} {zone}. fermwatch {fermwatch.__version__}."
    return element("footer", f"{told} Batch {story.batch.id}.")
