"""Controllers on a serial line, asked by a watcher that is a process of its own: armed, set, unplugged and back."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.conformance.controllers import BOARD, CONTROLLER_BENCHES, ControllerBench
from tests.flow.test_controller_set import ARM, CONTROLLER, OPEN, PLAN, PROBE, done, shown
from tests.support.modbus import serving
from tests.support.running import Site, until, vessel

OPTIONS: Mapping[str, Mapping[str, object]] = {
    "modbus-rtu": {"map": "worked-example", "every_s": 0.5, "drain_s": 0.05},
    "serial-controller": {**BOARD, "every_s": 0.5},
}
PORTS = {"modbus-rtu": "line", "serial-controller": "board"}  # as the benches name them


@dataclass
class OnALine:
    """The far end of a line, which lives on the loop that serves it."""

    driver: str
    directory: Path
    bench: ControllerBench | None = None

    async def start(self) -> None:
        self.bench = CONTROLLER_BENCHES[self.driver](self.directory)
        await self.bench.start()

    async def stop(self) -> None:
        if self.bench is not None:
            await self.bench.close()

    @property
    def there(self) -> ControllerBench:
        assert self.bench is not None
        return self.bench

    def source(self) -> str:
        said = {"driver": self.driver, "port": str(self.directory / PORTS[self.driver]), **OPTIONS[self.driver]}
        lines = [f"{key} = {json.dumps(value)}" for key, value in said.items()]
        return "\n".join(["[[source]]", 'name = "fridge"', *lines])


@pytest.mark.parametrize("driver", PORTS)
def test_it_is_set_by_the_plan_and_set_right_once_its_line_is_mended(tmp_path: Path, driver: str) -> None:
    line = OnALine(driver, tmp_path)
    with serving(line) as run:
        site, device = Site(tmp_path / "site"), line.there.device
        site.configure(vessel(), line.source(), PROBE, CONTROLLER.format(degree="set"))
        assert site.run("check").returncode == 0
        with site.watched() as watching:
            watching.says("source fridge is connected")
            for words in (OPEN, PLAN):
                done(site, *words)
            done(site, "plan", "skip", "left")
            assert device.set_point_writes == 0, "nobody armed it"
            done(site, *ARM)
            until(lambda: device.set_point_c == 20.0, "the plan's second step", seen=watching.log)
            until(lambda: "Controller fridge is set to 20.0 °C by the plan, nothing on." in shown(site), "read back")
            run(line.there.cut())
            until(lambda: "nothing is written: " in shown(site), "it is away", seen=watching.log)
            device.regulator = type(device.regulator)(15.0)  # somebody turned the knob meanwhile
            run(line.there.start())
            until(lambda: device.set_point_c == 20.0, "it is set right", seen=watching.log)
            until(lambda: "nothing is written" not in shown(site), "and all is well", seen=watching.log)
            assert device.set_point_writes == 2
            assert "it was turned to 15.0 °C at the device, or forgot" in " ".join(
                done(site, "controller", "show").split()
            )
            assert watching.stop() == 0
