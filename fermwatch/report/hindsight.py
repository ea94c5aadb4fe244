"""What the forecasts of a batch would have said on its days, and what came: the store keeps the last one alone, and the
judgement says the same again of the same readings (see "One judge per batch" in DEVELOPERS.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.brewing.air import air_bar
from fermwatch.contracts.feed import Curves
from fermwatch.contracts.store import Reader
from fermwatch.judgement.earlier import own_ends
from fermwatch.judgement.following import Ears, Notes
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, GravityMeasurement
from fermwatch.model.finding import Phase
from fermwatch.model.history import SpeakingSpan
from fermwatch.model.judgement import Judgement
from fermwatch.saying.fan import Fan, fan_of

DAYS = (2, 3, 4, 5, 7, 10, 14, 21)  # of the ferment, on which it is looked at what was said
OVER = frozenset({Phase.TERMINAL, Phase.CONDITIONING, Phase.PACKAGED})
WITHIN_SG = 0.001  # of its end: what a forecast calls done


@dataclass(frozen=True, slots=True)
class PastForecast:
    """What was forecast at `at`, a whole number of days after the pitch."""

    day: int
    fan: Fan

    @property
    def at(self) -> datetime:
        return self.fan.start

    def held(self, ended_sg: float) -> bool:
        """Whether it ended where it was 90 % sure that it would, to a point: no instrument reads better."""
        return self.fan.low.end_sg - WITHIN_SG / 2 <= ended_sg <= self.fan.high.end_sg + WITHIN_SG / 2


@dataclass(frozen=True, slots=True)
class Ended:
    """How it ended: the gravity that was measured last, by what; and since when it was within a point of its end, by
    its probe. None where nothing tells."""

    gravity_sg: float
    by: str
    at: datetime
    done_at: datetime | None = None


def past_forecasts(reader: Reader, batch: Batch, until: datetime) -> tuple[PastForecast, ...]:
    """Of each of the days before `until`, by what had been measured by then."""
    open_then = replace(batch, packaged_at=None, ended_at=None)
    judge, ears, own = Judge(open_then), Ears.of(reader, batch), own_ends(reader, batch)
    air = air_bar(reader.vessels())
    measured = [one for one in reader.measurements(batch.id, strict=False) if not one.voided]
    happened = [one for one in reader.events(batch.id, strict=False) if not one.voided]
    found, before = [], batch.pitched_at
    for day in DAYS:
        at = batch.pitched_at + timedelta(days=day)
        if at >= until:
            break
        known = Notes(tuple(_by(measured, at)), tuple(one for one in happened if one.at <= at), own, air)
        known.tell(judge)
        for instants, values in _heard(reader, ears, ears.temperature, before, at):
            judge.add_temperatures(instants, values)
        for instants, values in _heard(reader, ears, ears.gravity, before, at):
            judge.add_gravities(instants, values)
        judged = judge.judge(at)
        fan = fan_of(judged)
        if fan is not None and not _is_over(judged):
            found.append(PastForecast(day, fan))
        before = at
    return tuple(found)


def _by(measured: Sequence[GravityMeasurement], at: datetime) -> Iterator[GravityMeasurement]:
    return (one for one in measured if one.at <= at)


def _heard(
    reader: Reader, ears: Ears, spans: Sequence[SpeakingSpan], start: datetime, end: datetime
) -> Iterator[tuple[Sequence[int], Sequence[float]]]:
    for span in spans:
        for part in ears.history.parts(span.series, max(span.start, start), min(span.end, end)):
            instants, values = reader.believed(span.series, part.start, part.end)
            yield instants, part.calibration.apply_to_all(values)


def _is_over(judgement: Judgement | None) -> bool:
    return judgement is not None and judgement.phase is not None and judgement.phase.phase in OVER


def ended(
    batch: Batch, judgement: Judgement | None, measured: Sequence[GravityMeasurement], curves: Curves
) -> Ended | None:
    """None while it ferments, or where its gravity was never measured."""
    if batch.in_fermenter and not _is_over(judgement):
        return None
    last = last_gravity(judgement, measured)
    return None if last is None else replace(last, done_at=_settled(curves))


def last_gravity(judgement: Judgement | None, measured: Sequence[GravityMeasurement]) -> Ended | None:
    """By hand where somebody measured its level, else as the trend has it."""
    by_hand = [one for one in measured if one.level_known and not one.voided]
    if by_hand:
        last = max(by_hand, key=lambda one: one.at)
        return Ended(last.gravity_sg, str(last.instrument), last.at)
    trend = None if judgement is None else judgement.trend
    if trend is None or trend.measured_sg is None or trend.measured_at is None:
        return None
    return Ended(trend.measured_sg, trend.measured_by, trend.measured_at)


def _settled(curves: Curves) -> datetime | None:
    """When its probe was last more than a point above where it stood in the end; whatever its offset."""
    if not curves.gravity:
        return None
    last = curves.gravity[-1]
    near = [one.mean for one in curves.gravity if one.at >= last.at - timedelta(hours=12)]
    end_sg = sum(near) / len(near)
    above = [one.at for one in curves.gravity if one.mean > end_sg + WITHIN_SG]
    return above[-1] + curves.window.span if above and above[-1] < last.at else None
