"""A heating belt that is driven, and a watcher that dies, stands still or loses sight of the beer: the device drops it.

The watcher is a process of its own; the device the invented controller, with a dead-man of its own, on a real port.
"""

import signal
import time
from pathlib import Path

import pytest

from fermwatch.contracts.inbox import RequestKind
from fermwatch_drivers.modbus.register_map import shipped_map
from fermwatch_sim.modbus import ModbusFace
from fermwatch_sim.virtual_controller import VirtualController
from tests.dashboard.terminal import Terminal
from tests.support.heating_belt import LEASE_S, by_modbus, cold_beer, driven, heats
from tests.support.modbus import serving
from tests.support.running import until


@pytest.fixture
def device() -> VirtualController:
    return cold_beer()


def test_a_watcher_that_dies_or_stands_still_leaves_nothing_on(tmp_path: Path, device: VirtualController) -> None:
    face = ModbusFace(device, time.monotonic)
    with serving(face), driven(tmp_path, by_modbus(tmp_path, face.port), device) as (site, watching):
        leased_s = device.leased_until_s
        until(lambda: device.leased_until_s > leased_s, "it is renewed while all is well", seen=watching.log)
        watching.process.send_signal(signal.SIGSTOP)
        until(lambda: not heats(device), "the dead-man of the device", guard_s=LEASE_S + 10.0)
        device.measured_c = 25.0
        changes = len(device.switched)
        watching.process.send_signal(signal.SIGCONT)
        time.sleep(12.0)
        assert len(device.switched) == changes, "nothing stale is asserted: the beer is hot by now"
        device.measured_c = 15.0
        until(lambda: heats(device), "it goes on where it is cold again", seen=watching.log)
        watching.kill()
        until(lambda: not heats(device), "the dead-man of the device", guard_s=LEASE_S + 10.0)
        assert "heat on, by the plan" in site.run("controller", "show").stdout


def test_beer_that_is_not_seen_is_not_heated(tmp_path: Path, device: VirtualController) -> None:
    face = ModbusFace(device, time.monotonic)
    with serving(face), driven(tmp_path, by_modbus(tmp_path, face.port), device) as (site, watching):
        device.probe_broken = True  # a number that means "broken": never a temperature
        until(lambda: not heats(device), "off without a temperature", guard_s=90.0, seen=watching.log)
        watching.says("The beer's temperature is not known: everything is off")
        device.probe_broken = False
        until(lambda: heats(device), "seen again, heated again", seen=watching.log)
        assert site.run("controller", "observe", "fridge").returncode == 0
        until(lambda: not heats(device), "let be: the lease ends", guard_s=LEASE_S + 10.0)
        time.sleep(6.0)
        assert not heats(device)


def test_one_key_of_the_dashboard_lets_it_be_also_while_the_watcher_is_busy(
    tmp_path: Path, device: VirtualController
) -> None:
    """A thousand requests lie before it in the inbox; it is heard by its name while they are carried out."""
    face = ModbusFace(device, time.monotonic)
    with serving(face), driven(tmp_path, by_modbus(tmp_path, face.port), device) as (site, _):
        program = ["-m", "fermwatch", "--config", str(site.config)]
        with Terminal(program, columns=130, rows=30) as terminal:
            terminal.until("fridge is driven to 19.0 °C by the plan, heats")
            for number in range(1000):
                site.ask(RequestKind.VOID, {"id": f"none-{number}", "reason": "a test"})
            terminal.type("o")
            terminal.until("Observing: nothing is written to fridge any more")
            leased_s = device.leased_until_s
            until(lambda: not heats(device), "the lease ends", guard_s=LEASE_S + 10.0)
            assert device.leased_until_s == leased_s, "nothing is renewed any more"
            terminal.until("fridge is only read, nothing on")
            terminal.type("?")
            terminal.until("let every controller be, at once")


def test_the_worked_map_can_be_driven() -> None:
    assert shipped_map("worked-example").switching is not None
