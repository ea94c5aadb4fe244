"""`calc sensor`: from what a sensor gives to a temperature."""

import argparse
import re
from collections.abc import Callable
from pathlib import Path

from fermwatch.commands import amounts
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.errors import FermwatchError, InputError
from fermwatch.science import sensors

PURPOSE = "a sensor's raw value as a temperature"
LONGEST_TEXT = 4096
_HEX = re.compile(r"(?:0x)?([0-9a-f]{1,4})", re.IGNORECASE | re.ASCII)
_FRAME = re.compile(r"(?:[0-9a-f]{2}[ :]?){9}", re.IGNORECASE | re.ASCII)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("kind", choices=list(KINDS), help="what it is")
    parser.add_argument(
        "raw", nargs="+", metavar="RAW", help="hex word or nine bytes, file, or ohms as 107.8, 12.5kohm"
    )
    parser.add_argument("--r25", default="10kohm", metavar="OHM", help="of a thermistor at 25 °C (10kohm)")
    parser.add_argument("--beta", default="3950", metavar="K", help="of a thermistor (3950)")


def answer(options: argparse.Namespace) -> Calculated:
    celsius = KINDS[options.kind](" ".join(options.raw), options)
    shown = amounts.celsius_said(celsius, us=is_us(options), places=2)
    return Calculated({"temperature_c": rounded(celsius)}, [("temperature", shown)])


def _ds18b20(raw: str, _options: argparse.Namespace) -> float:
    if _FRAME.fullmatch(raw.strip()):
        return _said(lambda: sensors.ds18b20_frame_c(bytes.fromhex(re.sub(r"[ :]", "", raw))))
    word = _HEX.fullmatch(raw.strip())
    if word is None:
        raise InputError(f"{raw!r:.40} is no word or frame.", hint="Say it in hexadecimal: 0191, or all nine bytes.")
    return sensors.ds18b20_temperature_c(int(word[1], 16))


def _w1(raw: str, _options: argparse.Namespace) -> float:
    file = Path(raw)
    try:
        with file.open("rb") as opened:
            text = opened.read(LONGEST_TEXT).decode("ascii", "replace")
    except OSError as error:
        raise InputError(f"{raw:.80} cannot be read: {error.strerror}.", hint="Name a w1_slave file.") from error
    return _said(lambda: sensors.w1_slave_temperature_c(text))


def _pt(r0_ohm: float) -> Callable[[str, argparse.Namespace], float]:
    def temperature_c(raw: str, _options: argparse.Namespace) -> float:
        return sensors.pt_temperature_c(amounts.ohms(raw, what="resistance"), r0_ohm)

    return temperature_c


def _ntc(raw: str, options: argparse.Namespace) -> float:
    return sensors.ntc_beta_temperature_c(
        amounts.ohms(raw, what="resistance"),
        amounts.ohms(options.r25, what="--r25"),
        amounts.number(options.beta, what="--beta", low=1000.0, high=8000.0, unit="K"),
    )


def _said(compute: Callable[[], float]) -> float:
    """A frame that was refused is here what a person typed."""
    try:
        return compute()
    except FermwatchError as error:
        raise InputError(error.message, hint=error.hint) from error


KINDS: dict[str, Callable[[str, argparse.Namespace], float]] = {
    "ds18b20": _ds18b20,
    "w1": _w1,
    "pt100": _pt(100.0),
    "pt1000": _pt(1000.0),
    "ntc": _ntc,
}
