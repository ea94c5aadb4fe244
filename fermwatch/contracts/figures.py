"""A batch in figures, to be listed among others and laid beside one."""

from dataclasses import dataclass

from fermwatch.model.batch import Batch


@dataclass(frozen=True, slots=True)
class BatchFigures:
    """None where nothing tells it.

    last_sg: as last measured; attenuation: apparent, 0..1, from the original gravity that held then.
    days_to_end: from the pitch until it was found to have finished. warmest_c: the highest mean of a stretch in its
    fermenter; alarms: how often one was raised meanwhile. The last two are read where batches are asked for by name.
    """

    batch: Batch
    last_sg: float | None = None
    attenuation: float | None = None
    days_to_end: float | None = None
    warmest_c: float | None = None
    alarms: int | None = None
