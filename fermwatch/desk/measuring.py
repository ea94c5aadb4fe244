"""A gravity by hand: what it is once corrected, what speaks against it, and what is asked to be stored."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.brewing.attenuation import original_sg_at
from fermwatch.contracts.store import Reader
from fermwatch.desk.comparing import doubts
from fermwatch.desk.correcting import Corrected
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch, GravityMeasurement
from fermwatch.requests.shapes import Measuring

STORED_DIGITS = 5  # of a gravity


@dataclass(frozen=True, slots=True)
class ByHand:
    """A corrected reading of a batch, before it is stored. doubts: one sentence or two for each."""

    batch: Batch
    at: datetime
    corrected: Corrected
    degassed: bool
    doubts: tuple[str, ...]
    original_sg: float  # with what was added until then

    def asked(self, identity: str) -> Measuring:
        """What is to be asked for it to be stored, known by this identity."""
        corrected = self.corrected
        measurement = GravityMeasurement(
            id=identity,
            at=self.at,
            gravity_sg=round(corrected.gravity_sg, STORED_DIGITS),
            instrument=corrected.instrument,
            sd_points=round(corrected.sd_points, 2),
            reading=round(corrected.reading, 5),
            unit=corrected.unit,
            sample_temperature_c=None if corrected.temperature_c is None else round(corrected.temperature_c, 2),
            degassed=self.degassed,
            correction=plain(", ".join(corrected.steps)),
        )
        return Measuring(self.batch.id, measurement)


def by_hand(reader: Reader, batch: Batch, corrected: Corrected, at: datetime, *, degassed: bool) -> ByHand:
    """The reading beside what the store knows of the batch."""
    original_sg = original_sg_at(batch, reader.events(batch.id, strict=False), at)
    return ByHand(batch, at, corrected, degassed, tuple(doubts(reader, batch, corrected, at)), original_sg)
