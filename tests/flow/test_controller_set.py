"""A controller whose set point follows a plan: armed by a person, written within limits, let be at once.

The watcher is a process of its own; the device the invented controller, on a real port.
"""

import json
import time
from pathlib import Path

import pytest

from fermwatch.model.degree import CAUTION
from fermwatch_drivers.modbus.frames import Function
from fermwatch_sim.modbus import ModbusFace
from fermwatch_sim.thermal import AirController
from fermwatch_sim.virtual_controller import VirtualController
from tests.flow.test_json import table
from tests.support.modbus import ModbusPeer, serving
from tests.support.running import Site, standing, until, vessel

SOURCE = """
[[source]]
name = "fridge"
driver = "modbus-tcp"
host = "127.0.0.1"
port = {port}
map = "worked-example"
every_s = 0.5
"""
PROBE = """
[[probe]]
id = "left-target"
vessel = "left"
quantity = "set-point"
source = "fridge"
channel = "set-point"
every_s = 1
"""
CONTROLLER = """
[[controller]]
source = "fridge"
vessel = "left"
degree = "{degree}"
low_c = 1.0
high_c = 24.0
"""
OPEN = ("batch", "open", "Porch Ale", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--yes")
PLAN = ("plan", "use", "left", "--steps", "18C until told; 20C until told; 2C for 2 days")
ARM = ("controller", "arm", "fridge", "--repeat", CAUTION)


def configured(directory: Path, port: int, degree: str = "set") -> Site:
    site = Site(directory / "site")
    site.configure(vessel(), SOURCE.format(port=port), PROBE, CONTROLLER.format(degree=degree))
    return site


def done(site: Site, *words: str) -> str:
    said = site.run(*words)
    assert said.returncode == 0, said.stderr
    return said.stdout


def controller(site: Site) -> dict[str, object]:
    said = json.loads(done(site, "controller", "show", "--json"))
    assert set(said) == {"schema", "controllers"}
    (one,) = said["controllers"]
    assert set(one) == table("object | keys")["controller"]
    assert isinstance(one, dict)
    return one


def test_a_set_point_follows_the_plan_once_somebody_armed_it_and_not_a_moment_longer(tmp_path: Path) -> None:
    device = VirtualController(regulator=AirController(15.0))
    face = ModbusFace(device, time.monotonic)
    with serving(face):
        site = configured(tmp_path, face.port)
        assert "controller     fridge of left: set at most" in done(site, "check")
        with site.watched() as watching:
            done(site, *OPEN)
            done(site, *PLAN)
            assert controller(site)["degree"] == "observe"
            time.sleep(6.0)
            assert device.set_point_writes == 0, "nobody armed it"
            assert "no safety device" in done(site, *ARM)
            until(lambda: device.set_point_c == 18.0, "the plan's first step")
            done(site, "plan", "skip", "left")
            until(lambda: device.set_point_c == 20.0, "its second step")
            until(lambda: controller(site)["set_point_c"] == 20.0, "it is shown")
            done(site, "controller", "observe", "fridge")
            done(site, "plan", "skip", "left", "--although", "a test")
            time.sleep(6.0)
            assert device.set_point_c == 20.0, "let be"
            done(site, *ARM)
            until(lambda: device.set_point_c == 2.0, "a crash that somebody gave a reason for")
            assert device.set_point_writes == 3
            watching.kill()
        with site.watched() as watching:
            device.write(10, [150], time.monotonic())  # somebody turned the knob while nobody watched
            until(lambda: device.set_point_c == 2.0, "a watcher that starts again is where it was")
            assert watching.stop() == 0
    journal = done(site, "controller", "show")
    assert "the set point 2.0 °C is written, by the plan" in journal
    assert "at most" in journal


@pytest.mark.timeout(300)  # a lost source is told of after a minute
def test_what_it_does_stands_in_the_lane_and_its_silence_is_one_alarm_that_says_what_becomes_of_the_beer(
    tmp_path: Path,
) -> None:
    device = VirtualController(regulator=AirController(15.0))
    face = ModbusFace(device, time.monotonic)
    with serving(face) as run:
        site = configured(tmp_path, face.port)
        with site.watched():
            until(lambda: "Controller fridge is only read, set point 15.0 °C" in shown(site), "it is read")
            for words in (OPEN, PLAN, ARM):
                done(site, *words)
            until(lambda: "Controller fridge is set to 18.0 °C by the plan, nothing on." in shown(site), "set")
            (said,) = site.status()["fermenters"][0]["regulators"]
            assert set(said) == table("object | keys")["regulator"]
            assert (said["degree"], said["target_c"], said["set_point_c"], said["on"]) == ("set", 18.0, 18.0, [])
            device.door_open = True
            until(lambda: "it tells: door open" in shown(site), "an alarm bit of its own")
            run(face.stop())
            lost = site.until_status(lambda said: "source-lost" in standing(said), "it is silent", guard_s=120)
            calling = [one["rule"] for one in lost["alarms"] if one["needs_attention"] and one["severity"] != "advice"]
            assert calling == ["source-lost"]
            told = shown(site)
            assert "The controller goes on by itself at 18.0 °C, as it was set last." in told
            assert "nothing is written: " in told
            run(face.start())
            until(lambda: "nothing is written" not in shown(site), "it is back")


def shown(site: Site) -> str:
    """The status in one line."""
    return " ".join(done(site, "status").split())


def test_a_device_that_keeps_its_own_mind_is_written_three_times_and_told_of(tmp_path: Path) -> None:
    peer = ModbusPeer()
    with serving(peer) as run:
        for address, word in ((0, 2611), (1, 185)):
            run(peer.set(Function.INPUT, address, word))
        run(peer.set(Function.HOLDING, 10, 150))
        peer.bend = lambda _wished, before: before  # it takes the write, and stays where it was
        site = configured(tmp_path, peer.port)
        with site.watched() as watching:
            for words in (OPEN, PLAN, ARM):
                done(site, *words)
            watching.says("shows 15.0 °C after 18.0 °C was written 3 times")
            time.sleep(6.0)
            assert len([address for address, _ in peer.writes if address == 10]) == 3
            assert watching.stop() == 0


def test_what_the_configuration_does_not_allow_cannot_be_armed(tmp_path: Path) -> None:
    device = VirtualController(regulator=AirController(15.0))
    face = ModbusFace(device, time.monotonic)
    with serving(face):
        site = configured(tmp_path, face.port, "observe")
        said = site.run(*ARM)
        assert said.returncode != 0
        assert "only observe fridge" in said.stderr


def test_the_caution_is_repeated_word_for_word(tmp_path: Path) -> None:
    face = ModbusFace(VirtualController(), time.monotonic)
    with serving(face):
        site = configured(tmp_path, face.port)
        said = site.run("controller", "arm", "fridge", "--repeat", "yes")
        assert said.returncode != 0
        assert "Repeat the caution word for word" in said.stderr
