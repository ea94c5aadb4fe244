"""A gravity by hand: what it is once corrected, what speaks against it, and what is asked to be stored."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.store import Reader
from fermwatch.desk.comparing import doubts
from fermwatch.desk.correcting import Corrected
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch, GravityMeasurement
from fermwatch.requests.shapes import Measuring


@dataclass(frozen=True, slots=True)
class ByHand:
    """A corrected reading of a batch, before it is stored. doubts: one sentence or two for each."""

    batch: Batch
    at: datetime
    corrected: Corrected
    degassed: bool
    doubts: tuple[str, ...]

    def asked(self, identity: str) -> Measuring:
        """What is to be asked for it to be stored, known by this identity."""
        corrected = self.corrected
        measurement = GravityMeasurement(
            id=identity,
            at=self.at,
            gravity_sg=round(corrected.gravity_sg, 5),
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
    return ByHand(batch, at, corrected, degassed, tuple(doubts(reader, batch, corrected, at)))
