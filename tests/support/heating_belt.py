"""A heating belt that is driven by a watcher in a process of its own, through an invented controller on a real wire."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fermwatch.model.degree import CAUTION, Output
from fermwatch_sim.virtual_controller import Mode, VirtualController
from tests.support.running import Site, Watching, until, vessel

LEASE_S = 20
BY_MODBUS = """
[[source]]
name = "fridge"
driver = "modbus-tcp"
host = "127.0.0.1"
port = {port}
map_file = "{map_file}"
every_s = 0.5
"""
BY_MQTT = """
[[source]]
name = "fridge"
driver = "mqtt-controller"
host = "127.0.0.1"
port = {port}
measured = "cellar/fridge/state#/beer"
heat = "cellar/fridge/state#/heat"
echo = "cellar/fridge/state#/last"
ask_topic = "cellar/fridge/ask"
switch_topic = "cellar/fridge/orders"
switch_payload = '{switch}'
longest_lease_s = {lease_s}
every_s = 0.5
"""
HEAT_ALONE = '{"cool": 0, "heat": {heat}, "lease_s": {lease}, "id": {id}}'
PROBE = """
[[probe]]
id = "left-beer"
vessel = "left"
quantity = "beer-temperature"
source = "fridge"
channel = "measured"
every_s = 1

[[controller]]
source = "fridge"
vessel = "left"
degree = "drive"
low_c = 1.0
high_c = 24.0
"""
MAP = """
title = "an invented belt controller"
unit = "°C"
word_order = "high-first"

[measured]
function = "input"
address = 1
type = "int16"
scale = 0.1
low = -40.0
high = 110.0
broken = [32767]

[outputs.heat]
function = "input"
address = 2
bit = 1

[switching]
function = "holding"
address = 20
bits = {{ heat = 1 }}
longest_lease_s = {lease_s}
"""
WORDS = (
    ("batch", "open", "Porch Ale", "--vessel", "left", "--og", "1.050", "--yeast", "clean-ale", "--yes"),
    ("plan", "use", "left", "--steps", "19C until told"),
    ("controller", "arm", "fridge", "--repeat", CAUTION),
)


def by_modbus(directory: Path, port: int) -> str:
    map_file = directory / "map.toml"
    map_file.write_text(MAP.format(lease_s=LEASE_S), encoding="utf-8")
    return BY_MODBUS.format(port=port, map_file=map_file)


def by_mqtt(port: int) -> str:
    return BY_MQTT.format(port=port, switch=HEAT_ALONE, lease_s=LEASE_S)


def cold_beer() -> VirtualController:
    """A device that a belt hangs on, with a dead-man of its own, and beer that is too cold for its plan."""
    return VirtualController(mode=Mode.BY_COMMAND, measured_c=15.0)


def heats(device: VirtualController) -> bool:
    return Output.HEAT in device.on(time.monotonic())


@contextmanager
def driven(
    directory: Path, source: str, device: VirtualController, *tables: str, **environment: str
) -> Iterator[tuple[Site, Watching]]:
    """A site whose beer at 15 °C is heated. source: how its controller is reached. tables: further configuration."""
    site = Site(directory / "site", environment=environment)
    site.configure(vessel(), source, PROBE, *tables)
    with site.watched() as watching:
        watching.says("is connected")
        for words in WORDS:
            said = site.run(*words)
            assert said.returncode == 0, said.stderr
        until(lambda: heats(device), "cold beer is heated", seen=watching.log)
        yield site, watching
