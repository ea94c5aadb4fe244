"""The air that beer ferments and is filled in: under thin air it holds less CO2, and a gauge shows more."""

from collections.abc import Iterable

from fermwatch.model.probe import Vessel
from fermwatch.science.solubility import pressure_at_altitude_bar


def air_bar(vessels: Iterable[Vessel]) -> float:
    """The mean air pressure of the place where these fermenters stand, bar; at the sea where there are none."""
    return pressure_at_altitude_bar(next((one.altitude_m for one in vessels), 0.0))
