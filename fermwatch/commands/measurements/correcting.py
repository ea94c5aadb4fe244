"""From what a hydrometer or refractometer reads to SG 20/20 with its uncertainty, and what was corrected, in words."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from fermwatch.commands import amounts
from fermwatch.errors import InputError
from fermwatch.model.amounts import gravity, points, points_range, temperature, warmth
from fermwatch.model.batch import Instrument
from fermwatch.science import hydrometer, refractometer
from fermwatch.science.extract import (
    OLD_REFERENCE_C,
    REFERENCE_C,
    plato_to_sg,
    sg_between_scales,
    sg_to_plato,
)

SCALES_C = {"20C": REFERENCE_C, "15.56C": OLD_REFERENCE_C, "60F": OLD_REFERENCE_C}
READING_SD_SG = 0.0005  # half a division of a 0.001 stem
THERMOMETER_SD_C = 0.5
UNKNOWN_TEMPERATURE_SD_C = 3.0  # where nobody measured the sample
GAS_SD_SG = 0.0015  # common practice: gas lifts the stem by 1 to 3 points
WORT_FACTOR_SD = 0.02  # common practice: worts and instruments differ


@dataclass(frozen=True, slots=True)
class Sample:
    """How a reading was taken. Texts are as typed; None where nothing was said."""

    temperature: str | None = None
    degassed: bool = True
    scale: str = "20C"
    water_check: str | None = None
    wort_factor: str | None = None
    us: bool = False
    what: str = "reading"  # where it was typed, for errors


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


def by_hydrometer(typed: str, sample: Sample, *, fermented: bool = True) -> Corrected:
    """SG 20/20 of a hydrometer's reading in SG, °P or °Bx. InputError for what it cannot read."""
    scale_c = _scale_c(sample.scale)
    read_sg, unit = amounts.gravity_sg(typed, what=sample.what), _unit_of(typed)
    on_scale = sg_between_scales(read_sg, REFERENCE_C, scale_c) if unit != "SG" else read_sg
    temperature_c = _temperature_c(sample, low_c=0.0)
    at_c = scale_c if temperature_c is None else temperature_c
    offset, offset_words = _hydrometer_offset(sample.water_check, scale_c)
    gravity_sg = hydrometer.correct_to_sg_20(on_scale - offset, at_c, scale_c)
    sd = hydrometer.uncertainty_sg(
        on_scale - offset,
        at_c,
        scale_c,
        reading_sd=READING_SD_SG,
        temperature_sd_c=UNKNOWN_TEMPERATURE_SD_C if temperature_c is None else THERMOMETER_SD_C,
        fermented=fermented,
    )
    gassy = fermented and not sample.degassed
    return Corrected(
        Instrument.HYDROMETER,
        gravity_sg,
        1000.0 * math.hypot(sd, GAS_SD_SG if gassy else 0.0),
        read_sg if unit == "SG" else sg_to_plato(read_sg),
        unit,
        temperature_c,
        _steps(
            temperature_c,
            "" if scale_c == REFERENCE_C else f"scale {sample.scale.strip()}",
            offset_words,
        ),
        _hydrometer_cautions(temperature_c, gassy=gassy),
    )


def wort_by_refractometer(typed: str, sample: Sample) -> Corrected:
    """SG 20/20 of unfermented wort."""
    read, at_20, words = _brix_at_20(typed, sample)
    factor = _factor(sample)
    gravity_sg = plato_to_sg(_named(sample.what, lambda: refractometer.original_extract(at_20, factor)))
    sd = math.hypot(0.1, WORT_FACTOR_SD * at_20) * 4.0  # 4 points to the °Bx of wort
    steps = (*words, f"wort factor {factor:g}")
    return Corrected(Instrument.REFRACTOMETER, gravity_sg, sd, read, "°Bx", _temperature_c(sample, low_c=5.0), steps)


def beer_by_refractometer(
    typed: str, sample: Sample, *, original_brix: str | None, original_sg: float | None
) -> Corrected:
    """SG 20/20 of fermenting beer, on what the wort read; that is reckoned from the original gravity if not said."""
    read, at_20, words = _brix_at_20(typed, sample)
    factor = _factor(sample)
    initial, origin = _initial_brix(original_brix, original_sg, factor)
    gravity_sg = _named(sample.what, lambda: refractometer.final_gravity(initial, at_20, factor))
    sd = refractometer.final_gravity_uncertainty(initial, at_20)
    return Corrected(
        Instrument.REFRACTOMETER,
        gravity_sg,
        1000.0 * sd,
        read,
        "°Bx",
        _temperature_c(sample, low_c=5.0),
        (*words, f"wort {initial:.1f} °Bx{origin}, wort factor {factor:g}"),
        ("A refractometer shows whether gravity stands still, not where: one hydrometer reading settles the level.",),
    )


def _initial_brix(original_brix: str | None, original_sg: float | None, factor: float) -> tuple[float, str]:
    if original_brix is not None:
        return amounts.brix(original_brix, what="--original-brix"), ""
    if original_sg is None:
        raise InputError("What did the wort read before the yeast?", hint="Add --original-brix 12.4.")
    return sg_to_plato(original_sg) * factor, f" (reckoned from {gravity(original_sg)})"


def _brix_at_20(typed: str, sample: Sample) -> tuple[float, float, tuple[str, ...]]:
    """As read, compensated, and what was done to it."""
    read = amounts.brix(typed, what=sample.what)
    zero = _water_brix(sample.water_check)
    at_20 = max(read - zero, 0.0)
    words = (f"reads {zero:+.1f} °Bx in water",) if zero else ()
    temperature_c = _temperature_c(sample, low_c=5.0)
    if temperature_c is None:
        return read, at_20, words
    at_20 += refractometer.temperature_correction_brix(at_20, temperature_c)
    return read, at_20, (f"at {temperature(temperature_c)}, not compensated", *words)


def _water_brix(typed: str | None) -> float:
    if typed is None:
        return 0.0
    text = typed.strip().casefold().removesuffix("bx").strip()
    return amounts.number(text, what="--water-check", low=-3.0, high=3.0, unit="")


def _hydrometer_offset(typed: str | None, scale_c: float) -> tuple[float, str]:
    """How much too high the stem reads, by what it reads in water of 20 °C."""
    if typed is None:
        return 0.0, ""
    read_sg = amounts.gravity_sg(typed, what="--water-check")
    expected_sg = hydrometer.reading_sg(1.0, REFERENCE_C, scale_c)
    offset = read_sg - expected_sg
    if abs(offset) > 0.01:
        raise InputError(
            f"--water-check: {typed} in water is {points(1000.0 * offset, 0, signed=True)} off: no hydrometer is to be "
            "trusted so.",
            hint=f"Is the scale inside the stem loose, or was it not water of {temperature(20, None)}?",
        )
    return offset, f"reads {typed.strip()} in water of {temperature(20, None)}"


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


def _temperature_c(sample: Sample, *, low_c: float) -> float | None:
    if sample.temperature is None:
        return None
    return amounts.temperature_c(sample.temperature, what="--sample", us=sample.us, low_c=low_c)


def _scale_c(scale: str) -> float:
    found = {name.casefold(): celsius for name, celsius in SCALES_C.items()}.get(scale.strip().casefold())
    if found is None:
        raise InputError(f"--scale: {scale!r:.30} is no scale known here.", hint=f"Known: {', '.join(SCALES_C)}.")
    return found


def _factor(sample: Sample) -> float:
    if sample.wort_factor is None:
        return refractometer.WORT_CORRECTION_FACTOR
    return amounts.number(sample.wort_factor, what="--wort-factor", low=0.98, high=1.06)


def _unit_of(typed: str) -> str:
    said = typed.casefold()
    return "°Bx" if "b" in said else "°P" if "pl" in said or said.strip().endswith("p") else "SG"


def _steps(temperature_c: float | None, *words: str) -> tuple[str, ...]:
    at = "" if temperature_c is None else f"at {temperature(temperature_c)}"
    return tuple(word for word in (at, *words) if word)


def _named(what: str, compute: Callable[[], float]) -> float:
    try:
        return compute()
    except InputError as error:
        raise InputError(f"{what}: {error.message}", hint=error.hint) from None
