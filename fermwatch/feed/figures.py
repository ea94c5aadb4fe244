"""Batches in figures, from what is kept of them."""

from datetime import datetime, timedelta

from fermwatch.brewing.attenuation import attenuated, original_sg_at
from fermwatch.contracts.figures import BatchFigures
from fermwatch.contracts.store import Reader
from fermwatch.feed.curves import CurveReader
from fermwatch.model.batch import Batch
from fermwatch.model.finding import CONDITIONING_AFTER_H, Phase
from fermwatch.model.history import History
from fermwatch.model.judgement import PhaseStatement
from fermwatch.model.subject import About
from fermwatch.model.window import Window

COLUMNS = 600  # of a batch's stay: an hour and less for most
MOST_ALARMS = 5000
RAISED = " raised ("  # as the journal tells of one


def figures(reader: Reader, batch_ids: tuple[str, ...], now: datetime) -> tuple[BatchFigures, ...]:
    """Of the batches named, with all there is; of none named, of every batch, the newest first."""
    if not batch_ids:
        batches = sorted(reader.batches(ended=True), key=lambda one: one.pitched_at, reverse=True)
        return tuple(_figures(reader, one) for one in batches)
    named = (reader.batch(one) for one in batch_ids)
    return tuple(_in_full(reader, one, now) for one in named if one is not None)


def _figures(reader: Reader, batch: Batch) -> BatchFigures:
    judgement = reader.judgement(batch.id)
    trend = judgement.trend if judgement is not None else None
    phase = judgement.phase if judgement is not None else None
    last_sg, at = (None, batch.pitched_at) if trend is None else (trend.measured_sg or trend.gravity_sg, trend.at)
    original_sg = original_sg_at(batch, reader.events(batch.id, strict=False), at)
    return BatchFigures(
        batch,
        last_sg,
        None if last_sg is None else attenuated(original_sg, last_sg),
        _days_to_end(batch, phase),
    )


def _days_to_end(batch: Batch, phase: PhaseStatement | None) -> float | None:
    """It is said to mature some days after it was found to have finished; once packaged, nothing tells it any more."""
    if phase is None or phase.phase not in {Phase.TERMINAL, Phase.CONDITIONING}:
        return None
    matured = timedelta(hours=CONDITIONING_AFTER_H if phase.phase is Phase.CONDITIONING else 0.0)
    return (phase.since - matured - batch.pitched_at) / timedelta(days=1)


def _in_full(reader: Reader, batch: Batch, now: datetime) -> BatchFigures:
    light, left = _figures(reader, batch), batch.left_fermenter_at or now
    return BatchFigures(
        batch,
        light.last_sg,
        light.attenuation,
        light.days_to_end,
        _warmest_c(reader, batch, left),
        _alarms(reader, batch, left),
    )


def _warmest_c(reader: Reader, batch: Batch, left: datetime) -> float | None:
    if left <= batch.pitched_at:
        return None
    window = Window(batch.pitched_at, left, COLUMNS)
    curves = CurveReader(reader, History(reader.bindings())).read(batch.vessel, window, since=batch.pitched_at)
    return max((one.mean for one in curves.beer), default=None)


def _alarms(reader: Reader, batch: Batch, left: datetime) -> int:
    """Of its fermenter and of itself."""
    subjects = (About.FERMENTER.of(batch.vessel), About.BATCH.of(batch.id))
    entries = (one for about in subjects for one in reader.journal(limit=MOST_ALARMS, kind="alarm", subject=about))
    return sum(RAISED in one.text and batch.pitched_at <= one.at <= left for one in entries)
