"""Listening to the thermometers of a 1-Wire bus, by the driver that would read them."""

import os
from dataclasses import dataclass
from pathlib import Path

from fermwatch.clock import Clock
from fermwatch.contracts.driver import Delivery
from fermwatch.contracts.overhearing import PlaceNews, SaidField, Told, Utterance
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeError
from fermwatch.text import clean
from fermwatch_drivers.one_wire.driver import DEVICES, DRIVER, OneWireOptions
from fermwatch_drivers.one_wire.scratchpad import FAMILIES

PLACE = "1-Wire"
EVERY_S = 3.0
_WHICH = "Hold one in your hand: the one that warms is that one"


def thermometers(directory: Path = DEVICES) -> list[str]:
    """What is on the bus of this machine and measures a temperature; nothing where there is no bus."""
    try:
        names = os.listdir(directory)  # noqa: PTH208 - names alone
    except OSError:  # no bus, or none that may be seen
        return []
    return sorted(name for name in names if name[:2] in {f"{family:02x}" for family in FAMILIES} and name[2:3] == "-")


@dataclass(frozen=True, slots=True)
class _BusListener:
    told: Told
    settings: tuple[tuple[str, str | int | bool], ...]

    def connected(self, detail: str) -> None:
        self.told(PlaceNews(PLACE, detail, _WHICH))

    async def deliver(self, delivery: Delivery) -> None:
        for reading in delivery.readings:
            field = SaidField(reading.channel, f"thermometer {reading.channel} temp", reading.value, reading.unit)
            text = f"{clean(reading.channel)} {reading.value:.2f} {reading.unit or ''}"
            self.told(Utterance(PLACE, "one-wire", self.settings, text, (field,)))
        for rejection in delivery.rejections:
            self.told(PlaceNews(PLACE, f"{clean(rejection.channel)}: {clean(rejection.reason, 200)}"))


async def overhear_bus(told: Told, clock: Clock, directory: Path = DEVICES) -> None:
    """Tell what each thermometer measures until cancelled, or until the bus is lost, which is told too."""
    usual = directory == DEVICES
    try:
        options = OneWireOptions(directory=directory, every_s=EVERY_S)
        driver = DRIVER.create("listen", options, thermometers(directory), clock, Wires())
        await driver.run(_BusListener(told, () if usual else (("directory", str(directory)),)))
    except ProbeError as error:
        told(PlaceNews(PLACE, error.message, error.hint, over=True))
