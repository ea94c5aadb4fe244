"""From what a hydrometer or refractometer reads to SG 20/20 with its uncertainty, and what was corrected, in words."""

import math
from dataclasses import dataclass

from fermwatch.errors import InputError
from fermwatch.model.amounts import gravity, points, points_range, temperature, warmth
from fermwatch.model.batch import Instrument
from fermwatch.science import hydrometer, refractometer
from fermwatch.science.extract import (
    REFERENCE_C,
    plato_to_sg,
    sg_between_scales,
    sg_to_plato,
)

READING_SD_SG = 0.0005  # half a division of a 0.001 stem
THERMOMETER_SD_C = 0.5
UNKNOWN_TEMPERATURE_SD_C = 3.0  # where nobody measured the sample
GAS_SD_SG = 0.0015  # common practice: gas lifts the stem by 1 to 3 points
WORT_FACTOR_SD = 0.02  # common practice: worts and instruments differ


@dataclass(frozen=True, slots=True)
class Sample:
    """How a reading was taken.

    temperature_c: None where nobody measured it. scale_c: what a hydrometer's scale is made for. water_check_sg,
    water_check_brix: what the hydrometer or the refractometer reads in water of 20 °C, where that was looked at.
    """

    temperature_c: float | None = None
    degassed: bool = True
    scale_c: float = REFERENCE_C
    water_check_sg: float | None = None
    water_check_brix: float = 0.0
    wort_factor: float = refractometer.WORT_CORRECTION_FACTOR


@dataclass(frozen=True, slots=True)
class Corrected:
    """reading: as read, in `unit`. steps: what was corrected, in words."""

    instrument: Instrument
    gravity_sg: float
    sd_points: float
    reading: float
    unit: str
    temperature_c: float | None
    steps: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def by_hydrometer(read_sg: float, sample: Sample, *, unit: str = "SG", fermented: bool = True) -> Corrected:
    """SG 20/20 of a hydrometer's reading. unit: in which it was read; of °P and °Bx, `read_sg` is the SG 20/20.

    InputError where its water check says that no reading of it counts.
    """
    on_scale = read_sg if unit == "SG" else sg_between_scales(read_sg, REFERENCE_C, sample.scale_c)
    at_c = sample.scale_c if sample.temperature_c is None else sample.temperature_c
    offset, offset_words = _hydrometer_offset(sample.water_check_sg, sample.scale_c)
    sd = hydrometer.uncertainty_sg(
        on_scale - offset,
        at_c,
        sample.scale_c,
        reading_sd=READING_SD_SG,
        temperature_sd_c=UNKNOWN_TEMPERATURE_SD_C if sample.temperature_c is None else THERMOMETER_SD_C,
        fermented=fermented,
    )
    gassy = fermented and not sample.degassed
    scale_words = "" if sample.scale_c == REFERENCE_C else f"scale of {temperature(sample.scale_c)}"
    return Corrected(
        Instrument.HYDROMETER,
        hydrometer.correct_to_sg_20(on_scale - offset, at_c, sample.scale_c),
        1000.0 * math.hypot(sd, GAS_SD_SG if gassy else 0.0),
        read_sg if unit == "SG" else sg_to_plato(read_sg),
        unit,
        sample.temperature_c,
        _steps(sample.temperature_c, scale_words, offset_words),
        _hydrometer_cautions(sample.temperature_c, gassy=gassy),
    )


def wort_by_refractometer(read_brix: float, sample: Sample) -> Corrected:
    """SG 20/20 of unfermented wort."""
    at_20, words = _brix_at_20(read_brix, sample)
    gravity_sg = plato_to_sg(refractometer.original_extract(at_20, sample.wort_factor))
    sd = math.hypot(0.1, WORT_FACTOR_SD * at_20) * 4.0  # 4 points to the °Bx of wort
    steps = (*words, f"wort factor {sample.wort_factor:g}")
    return Corrected(Instrument.REFRACTOMETER, gravity_sg, sd, read_brix, "°Bx", sample.temperature_c, steps)


def beer_by_refractometer(
    read_brix: float, sample: Sample, *, original_brix: float | None, original_sg: float | None
) -> Corrected:
    """SG 20/20 of fermenting beer, on what the wort read; that is reckoned from the original gravity if not said.

    InputError where neither is known.
    """
    at_20, words = _brix_at_20(read_brix, sample)
    initial, origin = _initial_brix(original_brix, original_sg, sample.wort_factor)
    return Corrected(
        Instrument.REFRACTOMETER,
        refractometer.final_gravity(initial, at_20, sample.wort_factor),
        1000.0 * refractometer.final_gravity_uncertainty(initial, at_20),
        read_brix,
        "°Bx",
        sample.temperature_c,
        (*words, f"wort {initial:.1f} °Bx{origin}, wort factor {sample.wort_factor:g}"),
        ("A refractometer shows whether gravity stands still, not where: one hydrometer reading settles the level.",),
    )


def _initial_brix(original_brix: float | None, original_sg: float | None, factor: float) -> tuple[float, str]:
    if original_brix is not None:
        return original_brix, ""
    if original_sg is None:
        raise InputError("What did the wort read before the yeast?", hint="Add --original-brix 12.4.")
    return sg_to_plato(original_sg) * factor, f" (reckoned from {gravity(original_sg)})"


def _brix_at_20(read_brix: float, sample: Sample) -> tuple[float, tuple[str, ...]]:
    """Compensated, and what was done to it."""
    zero = sample.water_check_brix
    at_20 = max(read_brix - zero, 0.0)
    words = (f"reads {zero:+.1f} °Bx in water",) if zero else ()
    if sample.temperature_c is None:
        return at_20, words
    at_20 += refractometer.temperature_correction_brix(at_20, sample.temperature_c)
    return at_20, (f"at {temperature(sample.temperature_c)}, not compensated", *words)


def _hydrometer_offset(in_water_sg: float | None, scale_c: float) -> tuple[float, str]:
    """How much too high the stem reads, by what it reads in water of 20 °C."""
    if in_water_sg is None:
        return 0.0, ""
    offset = in_water_sg - hydrometer.reading_sg(1.0, REFERENCE_C, scale_c)
    if abs(offset) > 0.01:
        raise InputError(
            f"{gravity(in_water_sg)} in water is {points(1000.0 * offset, 0, signed=True)} off: no hydrometer is to be "
            "trusted so.",
            hint=f"Is the scale inside the stem loose, or was it not water of {temperature(20, None)}?",
        )
    return offset, f"reads {gravity(in_water_sg)} in water of {temperature(20, None)}"


def _hydrometer_cautions(temperature_c: float | None, *, gassy: bool) -> tuple[str, ...]:
    cautions = []
    if gassy:
        cautions.append(
            f"Not degassed: gas lifts a hydrometer by {points_range(1, 3)}, so that the beer is not judged by "
            "this reading. Stir and pour it to and fro until it is still, then say --degassed."
        )
    if temperature_c is None:
        cautions.append(
            f"No --sample temperature: taken as that of the scale. {warmth(5, None)} off is about {points(1)}."
        )
    return tuple(cautions)


def _steps(temperature_c: float | None, *words: str) -> tuple[str, ...]:
    at = "" if temperature_c is None else f"at {temperature(temperature_c)}"
    return tuple(word for word in (at, *words) if word)
