"""Beers that somebody would bottle, with what the store would answer of them."""

from dataclasses import replace
from datetime import timedelta

from fermwatch.contracts.feed import FillingAnswer, FillingQuery, Lane
from fermwatch.contracts.filling import Ground
from fermwatch.dashboard.events import Happening
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.bottling import Bottling
from fermwatch.drawing.lines import plain, width
from fermwatch.model.amounts import gravity, points, temperature
from fermwatch.model.batch import KegWay, PackageChoice
from fermwatch.model.finding import Evidence, VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.saying.voice import CANONICAL, Units
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import FermentableLeft
from tests.dashboard.snapshots import NOW, healthy, hot, snapshot

GLASS = PackageChoice("returnable-glass", 2.4, storage_c=25.0)
KEG = PackageChoice("keg", 2.4, storage_c=4.0, way=KegWay.FORCED)
DAY = timedelta(days=1)


def gates(*unmet: str) -> tuple[Evidence, ...]:
    told = (
        ("still", f"falling {points(0.1, 1)} a day; the chance of more is 2%", "Wait; another reading narrows it."),
        ("attenuation", f"apparent attenuation 77% at {gravity(1.012)}", "A forced ferment test tells."),
        ("warm", "100% of the last 72 h warm", f"Warm it to {temperature(18, None)} for 72 h."),
        ("hydrometer reading", "no hydrometer reading in the last 72 h", "Take another hydrometer reading, degassed."),
        ("package", "returnable-glass, 2.4 volumes: within its limit", "At most 2.1 volumes."),
    )
    return tuple(Evidence(name, name not in unmet, said, "" if name not in unmet else do) for name, said, do in told)


def nearly(package: PackageChoice | None = GLASS) -> Lane:
    """To be measured once more; beside it a forced ferment would settle it today."""
    verdict = Verdict(
        VerdictKind.CONFIRM,
        NOW - DAY,
        evidence=gates("still", "hydrometer reading"),
        sentence=f"Nearly ready: it stands at {gravity(1.012)}, and a reading is missing.",
        next_step=f"Measure by hand; if it reads {gravity(1.011)} or {gravity(1.012)}, bottle on Saturday.",
        next_at=NOW + DAY,
        next_beside="Or settle it today: start a forced ferment test, and read it in two days.",
    )
    return _judged(healthy(), verdict, package)


def safe(package: PackageChoice | None = GLASS) -> Lane:
    verdict = Verdict(
        VerdictKind.SAFE,
        NOW - DAY,
        evidence=gates(),
        sentence="It is finished and safe to bottle.",
        next_step="Bottle it: `fermwatch batch package left` reckons the sugar for the beer that is in the bucket.",
    )
    return _judged(healthy(), verdict, package)


def just_pitched() -> Lane:
    lane = healthy()
    assert lane.batch is not None
    return replace(lane, batch=replace(lane.batch, pitched_at=NOW - DAY / 12, package=GLASS), judgement=None)


def _judged(lane: Lane, verdict: Verdict, package: PackageChoice | None) -> Lane:
    assert lane.batch is not None
    assert lane.judgement is not None
    batch = replace(lane.batch, package=package)
    return replace(lane, batch=batch, judgement=replace(lane.judgement, verdict=verdict))


def ground(lane: Lane, *, left: FermentableLeft | None = None, held: ResidualCo2 | None = None) -> Ground:
    assert lane.batch is not None
    judged = lane.judgement or Judgement(NOW)
    held = held or ResidualCo2(0.82, 0.92)
    left = left or FermentableLeft(0.1, 0.6)
    return Ground(lane.batch, NOW, judged, left, held, "by the probe", lane.events, DEFAULTS)


def known_of(*lanes: Lane, typed: bool = False, units: Units = CANONICAL) -> Known:
    return Known(ascii=typed, units=units, snapshot=snapshot(*(lanes or (nearly(), hot()))))


def answered(page: Bottling, known: Known, told: Ground | None, refused: str = "") -> Known:
    for query in page.wants(known):
        assert isinstance(query, FillingQuery)
        known = known.with_answer(FillingAnswer(query, told, refused))
    return known


def after(page: Bottling, known: Known, *events: Happening) -> Bottling:
    for event in events:
        step = page.absorb(event, known)
        assert isinstance(step, Bottling)
        page = step
    return page


def text(page: Bottling, known: Known, columns: int, rows: int) -> str:
    drawn = page.draw(known, columns - 1, rows)
    assert max(width(line) for line in drawn.lines) <= columns - 1
    return "".join(f"{plain(line)}\n" for line in drawn.lines)
