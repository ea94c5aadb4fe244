"""A yeast, as far as a fermentation is judged by it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Yeast:
    """The figures that a batch is judged by: the packet's own where the user has them, a generic kind's otherwise.

    temperature_low_c, temperature_high_c: the range to ferment in, °C.
    attenuation_low, attenuation_high: apparent attenuation, 0..1.
    lag_max_h: longest time from pitch to the first signs of life, hours.
    alcohol_tolerance_abv: % by volume.
    """

    kind: str
    name: str
    temperature_low_c: float
    temperature_high_c: float
    attenuation_low: float
    attenuation_high: float
    lag_max_h: float = 36.0
    alcohol_tolerance_abv: float = 10.0
    diastatic: bool = False
    bottom_fermenting: bool = False
    maltose_negative: bool = False
