"""Three invented fermenters as a feed would hand them over: one healthy, one hot, one stalled."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from fermwatch.brewing.conditioning import conditioning_of
from fermwatch.contracts.feed import Freshness, InPackage, Lane, ProbeView, Snapshot
from fermwatch.contracts.store import Bucket, SourceState, SourceStatus, WatcherStatus
from fermwatch.model.amounts import gravity, points, temperature, temperature_range, warmth
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.model.finding import Alarm, Condition, Evidence, Phase, Severity, VerdictKind
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Trend, Verdict
from fermwatch.model.packaging import packaging_of
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.rule_settings import DEFAULTS
from fermwatch.model.yeast import Yeast

NOW = datetime(2026, 11, 3, 20, 14, tzinfo=UTC)
ZONE = "Europe/Oslo"
ALE = Yeast("clean-ale", "clean ale yeast", 17.0, 21.0, 0.73, 0.79)


def probe(vessel: str, quantity: Quantity) -> Probe:
    return Probe(f"{vessel}-{quantity}", vessel, quantity, "board", f"{vessel}-{quantity}", CANONICAL_UNIT[quantity])


def view(vessel: str, quantity: Quantity, value: float | None, *, age_s: float = 12.0) -> ProbeView:
    if value is None:
        return ProbeView(probe(vessel, quantity), Freshness.NEVER)
    freshness = Freshness.LIVE if age_s < 300 else Freshness.STALE
    return ProbeView(probe(vessel, quantity), freshness, value, NOW - timedelta(seconds=age_s), age_s)


def curve(at_hour: Callable[[float], float], *, every_min: int = 15, noise: float = 0.05) -> tuple[Bucket, ...]:
    """Buckets over the last 24 h from a function of hours before now."""
    buckets = []
    for number in range(24 * 60 // every_min):
        at = NOW - timedelta(hours=24) + timedelta(minutes=every_min * number)
        value = at_hour((NOW - at).total_seconds() / 3600)
        buckets.append(Bucket(at, 15, value - noise, value + noise, value))
    return tuple(buckets)


def batch(vessel: str, name: str, original_sg: float, days: float) -> Batch:
    pitched_at = NOW - timedelta(days=days)
    return Batch(f"batch-{vessel}", name, vessel, original_sg, pitched_at, 20.0, ALE)


def _trend(gravity_sg: float, rate: float, attenuation: float, temperature_c: float) -> Trend:
    """As a probe gives it that was heard a minute ago."""
    return Trend(
        NOW,
        gravity_sg,
        0.7,
        rate,
        0.5,
        attenuation,
        temperature_c=temperature_c,
        measured_sg=gravity_sg,
        measured_at=NOW - timedelta(minutes=1),
        measured_by="probe",
    )


def healthy(*, judged: bool = True) -> Lane:
    vessel = Vessel("left", "Left", 25.0)
    judgement = Judgement(
        NOW,
        _trend(1.024, -7.2, 0.534, 19.2),
        PhaseStatement(Phase.ACTIVE, NOW - timedelta(days=3)),
        Forecast(NOW, 1.012, 1.010, 1.015, NOW + timedelta(days=2.6), NOW + timedelta(days=2), NOW + timedelta(days=4)),
        Verdict(
            VerdictKind.NOT_YET,
            NOW - timedelta(days=3),
            ("gravity still falling",),
            (Evidence("steady gravity", met=False, statement=f"falling {points(7.2, 1)} a day", remedy="wait"),),
            next_reading_at=NOW + timedelta(days=3),
            next_reading_why="to see whether it has ended",
            sentence=f"It is still fermenting, at {gravity(1.024)}: not ready to bottle.",
            next_step="Take one degassed hydrometer reading and enter it with `fermwatch measure`.",
            next_at=NOW + timedelta(days=3),
        ),
    )
    return Lane(
        vessel,
        batch("left", "Harbour amber", 1.052, 4.1),
        (
            view("left", Quantity.BEER_TEMPERATURE, 19.24),
            view("left", Quantity.AIR_TEMPERATURE, 17.1),
            view("left", Quantity.SET_POINT, 19.0),
            view("left", Quantity.GRAVITY, 1.0243),
        ),
        (),
        curve(lambda hours: 19.2 + 0.35 * math.sin(hours * 1.6)),
        curve(lambda hours: 1.0243 + hours * 0.0003, noise=0.0003),
        judgement if judged else None,
    )


def empty() -> Lane:
    return replace(healthy(), batch=None, judgement=None)


def hot(*, judged: bool = True) -> Lane:
    alarm = Alarm(
        "temperature-high",
        "vessel:middle",
        Condition.RAISED,
        Severity.CRITICAL,
        since=NOW - timedelta(hours=4, minutes=34),
        raised_at=NOW - timedelta(hours=4, minutes=34),
        occurrence=1,
        statement=f"Beer {temperature(24.6)} is {warmth(3.6)} above the yeast's range {temperature_range(17, 21)} "
        "(15-min median, for 4 h)",
        remedy=f"Cool it by {warmth(3, None)} within the day; check that the fridge runs and its door is shut.",
    )
    lane = healthy(judged=judged)
    judgement = None
    if lane.judgement is not None:
        judgement = replace(
            lane.judgement,
            trend=_trend(1.035, -19.0, 0.374, 24.6),
            forecast=Forecast(NOW, 1.013, 1.010, 1.018, NOW + timedelta(days=1.9)),
        )
    return replace(
        lane,
        vessel=Vessel("middle", "Middle", 25.0),
        batch=batch("middle", "Saddle stout", 1.056, 1.7),
        probes=(
            view("middle", Quantity.BEER_TEMPERATURE, 24.6),
            view("middle", Quantity.AIR_TEMPERATURE, 22.3, age_s=1500),
            view("middle", Quantity.SET_POINT, 19.0),
            view("middle", Quantity.GRAVITY, 1.0351),
        ),
        alarms=(alarm,),
        beer_curve=curve(lambda hours: 24.6 - 5.4 / (1 + math.exp(1.1 * (7 - hours)))),
        gravity_curve=curve(lambda hours: 1.0351 + hours * 0.0006, noise=0.0004),
        judgement=judgement,
    )


def stalled(*, judged: bool = True) -> Lane:
    alarm = Alarm(
        "stalled",
        "batch:batch-right",
        Condition.RAISED,
        Severity.WARNING,
        since=NOW - timedelta(hours=30),
        raised_at=NOW - timedelta(hours=30),
        occurrence=1,
        statement=f"Stalled: {points(0.2, 1)} a day over 36 h (±{points(0.3, 1)}), {points(9)} above the yeast's "
        f"highest end, beer {temperature(15.8)}",
        remedy=f"Warm it to {temperature(19, None)} and rouse the yeast; do not bottle.",
    )
    judgement = Judgement(
        NOW,
        _trend(1.0225, -0.2, 0.55, 15.8),
        PhaseStatement(Phase.STALLED, NOW - timedelta(hours=38), "too cold"),
        None,
        Verdict(
            VerdictKind.HOLD,
            NOW - timedelta(hours=38),
            (f"stalled {points(9)} above its end",),
            sentence=f"Do not bottle: it has stopped at {gravity(1.0225)}, {points(9)} above where its yeast should "
            "bring it.",
            next_step="Measure by hand; then warm it to the top of its yeast's range and rouse it gently.",
        ),
    )
    return Lane(
        Vessel("right", "Right", 30.0),
        batch("right", "Old barn porter", 1.050, 9.2),
        (
            view("right", Quantity.BEER_TEMPERATURE, 15.8),
            view("right", Quantity.AIR_TEMPERATURE, 15.1),
            view("right", Quantity.SET_POINT, 16.0),
            view("right", Quantity.GRAVITY, 1.0225),
            view("right", Quantity.PRESSURE, None),
        ),
        (alarm,),
        curve(lambda hours: 15.8 + 0.15 * math.sin(hours)),
        curve(lambda hours: 1.0225 + 0.00001 * hours, noise=0.0003),
        judgement if judged else None,
    )


def watcher() -> WatcherStatus:
    return WatcherStatus("0.1.0", 4711, NOW - timedelta(days=12), NOW, NOW, NOW - timedelta(seconds=2), 412_345)


def source() -> SourceStatus:
    return SourceStatus("board", "serial-line", SourceState.CONNECTED, "open", NOW - timedelta(days=12), 412_345)


def snapshot(*lanes: Lane, judged: bool = True) -> Snapshot:
    shown = lanes or (healthy(judged=judged), hot(judged=judged), stalled(judged=judged))
    alarms = tuple(alarm for lane in shown for alarm in lane.alarms)
    return Snapshot("home", ZONE, NOW, NOW, watcher(), shown, alarms, (source(),))


def many(count: int) -> Snapshot:
    """As many fermenters as asked for, the three stories in turn."""
    stories = (healthy(), hot(), stalled())
    lanes = []
    for number in range(count):
        story = stories[number % 3]
        slug = f"f{number + 1}"
        alarms = tuple(replace(alarm, subject=f"vessel:{slug}") for alarm in story.alarms)
        lanes.append(replace(story, vessel=Vessel(slug, f"Fermenter {number + 1}", 25.0), alarms=alarms))
    return snapshot(*lanes)


def with_alarms(lane: Lane, *rules: str) -> Lane:
    """The lane with further unseen warnings."""
    more = tuple(
        Alarm(
            rule,
            f"vessel:{lane.vessel.slug}",
            Condition.RAISED,
            raised_at=NOW - timedelta(hours=1),
            occurrence=1,
            statement=f"{rule} is so",
            remedy="look at it",
        )
        for rule in rules
    )
    return replace(lane, alarms=(*lane.alarms, *more))


def in_package(name: str, days: float, *, asks: bool = False, **data: float | str | bool) -> InPackage:
    """A beer that was packaged so many days ago; `asks`: its PET bottle wants to be squeezed."""
    usual: dict[str, float | str | bool] = {
        "package": "returnable-glass",
        "volumes": 2.4,
        "sugar_g_per_l": 6.0,
        "conditioning_c": 20.0,
    }
    event = Event(f"packed-{name}", NOW - timedelta(days=days), EventKind.PACKAGED, {**usual, **data})
    beer = replace(batch("middle", name, 1.050, days + 14), id=name.replace(" ", "-").lower(), packaged_at=event.at)
    packaging = packaging_of((event,))
    assert packaging is not None
    alarm = Alarm(
        "squeeze-the-bottle",
        f"batch:{beer.id}",
        Condition.RAISED,
        Severity.ADVICE,
        raised_at=NOW,
        occurrence=1,
        statement=f"{name}: squeeze the PET bottle filled along, day {days:.0f}",
        remedy="It should give less each time.",
    )
    known = conditioning_of(beer, packaging, (event,), NOW, DEFAULTS)
    return InPackage(beer, packaging, known, (event,), alarms=(alarm,) if asks else ())
