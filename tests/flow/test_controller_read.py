"""A controller that is only read, from its registers to `status`: a process of ours against pymodbus's server."""

import time
from pathlib import Path

from fermwatch_drivers.modbus.frames import Function
from fermwatch_sim.fridge import Fridge
from fermwatch_sim.modbus import ModbusFace
from fermwatch_sim.thermal import AirController
from fermwatch_sim.virtual_controller import VirtualController
from tests.support.modbus import ModbusPeer, serving
from tests.support.running import Site, source_of, value_of, vessel

SOURCE = """
[[source]]
name = "fridge"
driver = "modbus-tcp"
host = "127.0.0.1"
port = {port}
map = "worked-example"
every_s = 0.2
"""
PROBE = """
[[probe]]
id = "left-{name}"
vessel = "left"
quantity = "{quantity}"
source = "fridge"
channel = "{channel}"
every_s = 1
"""
PROBES = (
    PROBE.format(name="beer", quantity="beer-temperature", channel="measured"),
    PROBE.format(name="target", quantity="set-point", channel="set-point"),
    PROBE.format(name="compressor", quantity="output", channel="cool"),
    PROBE.format(name="door", quantity="contact", channel="door-open"),
)


def test_its_measured_value_set_point_and_outputs_are_readings_like_any_other(tmp_path: Path) -> None:
    site, peer = Site(tmp_path / "site"), ModbusPeer()
    with serving(peer) as run:
        for address, word in ((0, 2611), (1, 185), (2, 1)):
            run(peer.set(Function.INPUT, address, word))
        run(peer.set(Function.HOLDING, 10, 180))
        site.configure(vessel(), SOURCE.format(port=peer.port), *PROBES)
        assert site.run("check").returncode == 0
        with site.watched() as watching:
            watching.says(
                f"source fridge is connected: invented two-output controller, device 1 at 127.0.0.1:{peer.port}"
            )
            watching.says("a channel that no probe uses: heat")
            site.until_status(
                lambda said: (
                    [value_of(said, f"left-{name}") for name in ("beer", "target", "compressor")] == [18.5, 18.0, 1.0]
                ),
                "all three are shown",
            )
            assert "18.5 °C" in site.run("status").stdout
            run(peer.set(Function.DISCRETE, 1, 1))
            site.until_status(lambda said: value_of(said, "left-door") == 1.0, "its door stands open")
            run(peer.set(Function.INPUT, 1, 32767))
            broken = site.until_status(lambda said: source_of(said, "fridge")["rejected"] > 2, "its probe is broken")
            assert value_of(broken, "left-beer") == 18.5, "the last that was measured"
            assert "its probe is broken or missing" in source_of(broken, "fridge")["last_rejection"]
            run(peer.set(Function.INPUT, 1, 186))
            site.until_status(lambda said: value_of(said, "left-beer") == 18.6, "it is mended")
            assert {row.value for row in site.readings("left-beer")} == {18.5, 18.6}, "no sentinel was ever stored"
            run(peer.set(Function.INPUT, 0, 2612))
            run(peer.stop())
            watching.says("source fridge: ")
            run(peer.start())
            watching.says("shows the profile 2612, which is not of the register map")
            assert not peer.writes, "who is only read is never written to"
            assert watching.stop() == 0


def test_the_invented_controller_is_seen_cooling_its_fridge_down(tmp_path: Path) -> None:
    site, fridge = Site(tmp_path / "site"), Fridge.at(21.0)
    controller = VirtualController(regulator=AirController(18.0))
    face = ModbusFace(controller, time.monotonic)

    async def pass_time(minutes: int) -> None:
        for _ in range(minutes):
            on = controller.step(time.monotonic(), air_c=fridge.air.air_c, beer_c=fridge.beer_c, dt_s=60.0)
            fridge.step(on, 60.0)

    with serving(face) as run:
        run(pass_time(30))
        assert controller.switched, "a warm beer is cooled once the compressor has had its rest"
        site.configure(vessel(), SOURCE.format(port=face.port), *PROBES)
        with site.watched() as watching:
            watching.says("source fridge is connected: invented two-output controller")
            warm = site.until_status(lambda said: value_of(said, "left-compressor") == 1.0, "it cools")
            assert value_of(warm, "left-beer") == round(fridge.beer_c, 1)
            assert value_of(warm, "left-target") == 18.0
            run(pass_time(20))
            cooler = round(fridge.beer_c, 1)
            assert cooler < 21.0
            site.until_status(lambda said: value_of(said, "left-beer") == cooler, "the beer gets cooler")
            assert {row.value for row in site.readings("left-compressor")} <= {0.0, 1.0}
            assert watching.stop() == 0
    assert controller.set_point_writes == 0
