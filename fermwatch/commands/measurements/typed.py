"""What somebody typed of an instrument's reading, as the values that the desk corrects."""

from collections.abc import Callable
from dataclasses import dataclass

from fermwatch.commands import amounts
from fermwatch.desk import correcting
from fermwatch.desk.correcting import Corrected, Sample
from fermwatch.errors import InputError
from fermwatch.science import refractometer
from fermwatch.science.extract import OLD_REFERENCE_C, REFERENCE_C

SCALES_C = {"20C": REFERENCE_C, "15.56C": OLD_REFERENCE_C, "60F": OLD_REFERENCE_C}


@dataclass(frozen=True, slots=True)
class Typed:
    """Texts as typed; None where nothing was said. what, sample: where reading and temperature stood, for errors."""

    temperature: str | None = None
    degassed: bool = True
    scale: str = "20C"
    water_check: str | None = None
    wort_factor: str | None = None
    us: bool = False
    what: str = "reading"
    sample: str = "--sample"

    def temperature_c(self, *, low_c: float) -> float | None:
        if self.temperature is None:
            return None
        return amounts.temperature_c(self.temperature, what=self.sample, us=self.us, low_c=low_c)


def by_hydrometer(reading: str, typed: Typed, *, fermented: bool = True) -> Corrected:
    """Of a reading in SG, °P or °Bx. InputError for what it cannot read."""
    sample = Sample(
        typed.temperature_c(low_c=0.0),
        typed.degassed,
        _scale_c(typed.scale),
        None if typed.water_check is None else amounts.gravity_sg(typed.water_check, what="--water-check"),
    )
    read_sg = amounts.gravity_sg(reading, what=typed.what)
    return _named(
        "--water-check", lambda: correcting.by_hydrometer(read_sg, sample, unit=_unit_of(reading), fermented=fermented)
    )


def wort_by_refractometer(reading: str, typed: Typed) -> Corrected:
    """Of unfermented wort, in °Bx. InputError for what it cannot read."""
    read_brix, sample = amounts.brix(reading, what=typed.what), _of_refractometer(typed)
    return _named(typed.what, lambda: correcting.wort_by_refractometer(read_brix, sample))


def beer_by_refractometer(
    reading: str, typed: Typed, *, original_brix: str | None, original_sg: float | None
) -> Corrected:
    """Of fermenting beer, in °Bx. InputError for what it cannot read."""
    read_brix, sample = amounts.brix(reading, what=typed.what), _of_refractometer(typed)
    initial = None if original_brix is None else amounts.brix(original_brix, what="--original-brix")
    if initial is None and original_sg is None:
        raise InputError("What did the wort read before the yeast?", hint="Add --original-brix 12.4.")
    return _named(
        typed.what,
        lambda: correcting.beer_by_refractometer(read_brix, sample, original_brix=initial, original_sg=original_sg),
    )


def _of_refractometer(typed: Typed) -> Sample:
    factor = refractometer.WORT_CORRECTION_FACTOR
    if typed.wort_factor is not None:
        factor = amounts.number(typed.wort_factor, what="--wort-factor", low=0.98, high=1.06)
    return Sample(
        typed.temperature_c(low_c=5.0), typed.degassed, water_check_brix=_water_brix(typed), wort_factor=factor
    )


def _water_brix(typed: Typed) -> float:
    if typed.water_check is None:
        return 0.0
    text = typed.water_check.strip().casefold().removesuffix("bx").strip()
    return amounts.number(text, what="--water-check", low=-3.0, high=3.0, unit="")


def _scale_c(scale: str) -> float:
    found = {name.casefold(): celsius for name, celsius in SCALES_C.items()}.get(scale.strip().casefold())
    if found is None:
        raise InputError(f"--scale: {scale!r:.30} is no scale known here.", hint=f"Known: {', '.join(SCALES_C)}.")
    return found


def _unit_of(typed: str) -> str:
    said = typed.casefold()
    return "°Bx" if "b" in said else "°P" if "pl" in said or said.strip().endswith("p") else "SG"


def _named(what: str, compute: Callable[[], Corrected]) -> Corrected:
    try:
        return compute()
    except InputError as error:
        raise InputError(f"{what}: {error.message}", hint=error.hint) from None
