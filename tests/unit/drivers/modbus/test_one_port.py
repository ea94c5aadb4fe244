"""One port has one protocol and one speed; who asks on it alike shares it."""

import asyncio
import time
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError
from fermwatch_drivers.modbus.driver import RTU_CONTROLLER, RTU_DRIVER
from fermwatch_drivers.modbus.options import ModbusRtuOptions
from fermwatch_drivers.serial_line.driver import DRIVER as SERIAL_LINE
from fermwatch_sim.modbus import ModbusLineFace
from fermwatch_sim.virtual_controller import VirtualController
from tests.support.null_modem import NullModem

PORT = "/dev/serial/by-id/usb-one"


def rtu(**more: object) -> ModbusRtuOptions:
    return ModbusRtuOptions.model_validate({"port": PORT, "map": "worked-example", **more})


@pytest.mark.parametrize("modbus_first", [True, False])
def test_lines_and_modbus_on_one_port_refuse_each_other(modbus_first: bool) -> None:
    wires, clock = Wires(), SystemClock()
    lines = SERIAL_LINE.options(port=PORT, format="pairs", baud=9600)

    def modbus() -> None:
        RTU_DRIVER.create("fridge", rtu(), [], clock, wires)

    def board() -> None:
        SERIAL_LINE.create("board", lines, [], clock, wires)

    first, second = (modbus, board) if modbus_first else (board, modbus)
    first()
    with pytest.raises(ConfigError, match=r'opened once for the sources ".*" and ".*", which differ in driver'):
        second()


def test_two_devices_on_one_line_share_it_and_differ_in_nothing_that_is_the_line_s() -> None:
    wires, clock = Wires(), SystemClock()
    RTU_CONTROLLER.create("left", rtu(device_id=1), clock, wires)
    RTU_CONTROLLER.create("right", rtu(device_id=2, answer_limit_s=2.0), clock, wires)
    with pytest.raises(ConfigError, match="differ in baud and parity"):
        RTU_CONTROLLER.create("third", rtu(baud=19200, parity="even"), clock, wires)


async def test_those_who_ask_on_one_line_wait_for_each_other(tmp_path: Path) -> None:
    modem, device = NullModem(tmp_path / "line"), VirtualController(measured_c=17.3)
    modem.plug_in()
    face = ModbusLineFace(device, time.monotonic, modem.there)
    await face.start()
    wires, options = Wires(), rtu(port=str(modem.here), drain_s=0.05, answer_limit_s=30.0)
    askers = [RTU_CONTROLLER.create(name, options, SystemClock(), wires) for name in ("source", "control", "third")]

    async def look(number: int) -> None:
        for _ in range(15):
            seen = await askers[number].read()
            assert (seen.measured_c, seen.set_point_c, seen.on) == (17.3, 18.0, frozenset())

    await asyncio.gather(*(look(number) for number in range(3)))
    await face.stop()
    modem.close()
