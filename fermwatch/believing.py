"""Doubts about a probe's reading in a person's words, as its device said it: where nouns and units meet."""

from fermwatch.errors import OutOfDomain
from fermwatch.model.believable import why_doubted
from fermwatch.model.probe import Probe
from fermwatch.model.reading import Flag
from fermwatch.units import from_canonical


def doubt(flags: Flag, probe: Probe, value: float) -> str:
    """Why a reading of the probe, in its canonical unit, is not to be believed; empty for a good one."""
    if not flags:
        return ""
    try:
        said = from_canonical(value, probe.unit)
    except OutOfDomain:
        said = value
    return why_doubted(flags, probe.quantity, value, said, probe.unit)
