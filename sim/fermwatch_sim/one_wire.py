"""An invented 1-Wire bus: a directory as Linux shows one, with thermometers that can be mistreated."""

import os
from pathlib import Path

MASTER = "w1_bus_master1"
BITS_12 = 0x7F


class OneWireBus:
    """In a directory of its own, whose `devices` is what /sys/bus/w1/devices would be."""

    def __init__(self, directory: Path) -> None:
        self._directory, self.devices = directory, directory / "devices"

    def plug_in(self) -> None:
        """The bus is there, with nothing on it."""
        (self._directory / MASTER).mkdir(parents=True, exist_ok=True)
        self.devices.mkdir(exist_ok=True)
        if not (self.devices / MASTER).exists():
            (self.devices / MASTER).symlink_to(self._directory / MASTER)

    def unplug(self) -> None:
        """The kernel's modules are gone, and all that they showed."""
        if self.devices.exists():
            for one in list(self.devices.iterdir()):
                one.unlink()
            self.devices.rmdir()

    def remove(self, sensor: str) -> None:
        (self.devices / sensor).unlink(missing_ok=True)

    def measures(self, sensor: str, celsius: float) -> None:
        """To a sixteenth, with twelve bits."""
        self.shows(sensor, shown(scratchpad(round(celsius * 16))))

    def shows(self, sensor: str, text: str | bytes) -> None:
        """Whatever its file is to hold; a reader sees all of it or what was before."""
        place = self._directory / MASTER / sensor
        place.mkdir(exist_ok=True)
        part = place / "part"
        part.write_bytes(text.encode() if isinstance(text, str) else text)
        part.replace(place / "w1_slave")
        if not (self.devices / sensor).exists():
            (self.devices / sensor).symlink_to(place)

    def hangs(self, sensor: str) -> Path:
        """Whoever reads it waits, until somebody writes to the pipe given back."""
        place = self._directory / MASTER / sensor
        place.mkdir(exist_ok=True)
        part = place / "part"
        os.mkfifo(part)
        part.replace(place / "w1_slave")
        if not (self.devices / sensor).exists():
            (self.devices / sensor).symlink_to(place)
        return place / "w1_slave"


def scratchpad(sixteenths: int, *, configuration: int = BITS_12, reserved: int = 0x10) -> bytes:
    """Nine bytes with their checksum."""
    eight = sixteenths.to_bytes(2, "little", signed=True) + bytes([0x4B, 0x46, configuration, 0xFF, reserved, 0x10])
    return eight + bytes([checksum(eight)])


def checksum(data: bytes) -> int:
    """Maxim's application note 27, by its shift register: bit by bit, low first."""
    register = 0
    for byte in data:
        for place in range(8):
            feedback = (register ^ byte >> place) & 1
            register = register >> 1 ^ (0x8C * feedback)
    return register


def shown(read: bytes, *, kept: bytes | None = None, holds: bool = True) -> str:
    """As the kernel shows it. kept: what held last, where this does not."""
    kept = read if kept is None else kept
    thousandths = int(int.from_bytes(kept[:2], "little", signed=True) / 16 * 1000)  # cut off, as the kernel does
    verdict = "YES" if holds else "NO"
    return f"{read.hex(' ')} : crc={read[8]:02x} {verdict}\n{kept.hex(' ')} t={thousandths}\n"
