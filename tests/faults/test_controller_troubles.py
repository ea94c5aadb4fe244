"""Heat is on when something else goes wrong: a locked store, a full disk, a mistaken judge or notifier, a broker that
is gone. Nothing stays on for longer than its lease by what nobody looks at any more, and the watcher goes on.
"""

import resource
import signal
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from fermwatch.watching.memory import LEAST_FRESH_S
from fermwatch_sim.modbus import ModbusFace
from fermwatch_sim.mqtt_face import MqttFace
from fermwatch_sim.virtual_controller import VirtualController
from tests.support.broker import Broker
from tests.support.heating_belt import LEASE_S, by_modbus, by_mqtt, cold_beer, driven, heats
from tests.support.modbus import serving
from tests.support.running import Site, Watching, until

NO_LIMIT = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
MISTAKEN = """
import os
from fermwatch.judgement.judge import Judge
from fermwatch.watching import telling

told = Judge.judge_at_once


def judge(self, until):
    if os.path.exists({switch!r}):
        raise ZeroDivisionError("an invented mistake")
    return told(self, until)


Judge.judge_at_once = judge
"""


@pytest.fixture
def device() -> VirtualController:
    return cold_beer()


@contextmanager
def heated(directory: Path, device: VirtualController, **environment: str) -> Iterator[tuple[Site, Watching]]:
    face = ModbusFace(device, time.monotonic)
    with serving(face), driven(directory, by_modbus(directory, face.port), device, **environment) as both:
        yield both


@contextmanager
def locked(site: Site) -> Iterator[None]:
    """By another program, which writes and does not come to an end."""
    connection = sqlite3.connect(site.store / "home.db", isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        connection.rollback()
        connection.close()


def hot_beer_is_not_heated(device: VirtualController, watching: Watching) -> None:
    """Who cannot look any more must not heat: what was believed last counts for a minute, what was asked for a lease.
    Then it is off, and stays so.
    """
    device.measured_c = 25.0
    until(lambda: not heats(device), "off", guard_s=LEAST_FRESH_S + LEASE_S + 10.0, seen=watching.log)
    end_s = time.monotonic() + 8.0
    while time.monotonic() < end_s:
        assert not heats(device), watching.log()
        time.sleep(0.1)


def heats_again(device: VirtualController, watching: Watching) -> None:
    device.measured_c = 15.0
    until(lambda: heats(device), "it goes on where it is cold", guard_s=90.0, seen=watching.log)
    assert watching.process.poll() is None


def test_a_store_that_somebody_locks_for_long(tmp_path: Path, device: VirtualController) -> None:
    with heated(tmp_path, device) as (site, watching):
        with locked(site):
            hot_beer_is_not_heated(device, watching)
        heats_again(device, watching)
        assert "Traceback" not in watching.log()


def test_a_disk_that_is_full(tmp_path: Path, device: VirtualController) -> None:
    with heated(tmp_path, device) as (site, watching):
        log = (site.store / "home.db-wal").stat().st_size
        resource.prlimit(watching.process.pid, resource.RLIMIT_FSIZE, (log, resource.RLIM_INFINITY))
        watching.says("ERROR nothing can be stored")
        hot_beer_is_not_heated(device, watching)
        resource.prlimit(watching.process.pid, resource.RLIMIT_FSIZE, NO_LIMIT)
        heats_again(device, watching)
        assert "Traceback" not in watching.log()


@pytest.mark.needs_broker
def test_a_broker_that_is_gone_and_a_watcher_that_stands_still_or_dies(
    tmp_path: Path, device: VirtualController
) -> None:
    with (
        Broker(tmp_path / "broker") as broker,
        serving(face := MqttFace(device, time.monotonic, broker.port)),
        driven(tmp_path, by_mqtt(broker.port), device) as (_, watching),
    ):
        broker.kill()
        until(lambda: not heats(device), "the dead-man of the device", guard_s=LEASE_S + 10.0)
        broker.start()
        heats_again(device, watching)
        watching.process.send_signal(signal.SIGSTOP)
        until(lambda: not heats(device), "the dead-man of the device", guard_s=LEASE_S + 10.0)
        device.measured_c, orders = 25.0, len(face.orders)
        watching.process.send_signal(signal.SIGCONT)
        time.sleep(12.0)
        assert not any(b'"heat": 1' in order for order, _ in face.orders[orders:]), "nothing stale is asserted"
        assert not any(retained for _, retained in face.orders)
        heats_again(device, watching)
        watching.kill()
        until(lambda: not heats(device), "the dead-man of the device", guard_s=LEASE_S + 10.0)
        with_nobody = len(face.orders)
        broker.restart()
        until(face.connected.is_set, "the device is back")
        assert len(face.orders) == with_nobody, "no order waited at the broker"


def test_a_mistake_in_judging_the_beer(tmp_path: Path, device: VirtualController) -> None:
    """What it says of the beer is unknown; the plan and the temperature are not, and heat is theirs."""
    switch, patch = tmp_path / "mistaken", tmp_path / "patch"
    patch.mkdir()
    (patch / "sitecustomize.py").write_text(MISTAKEN.format(switch=str(switch)))
    with heated(tmp_path, device, PYTHONPATH=str(patch)) as (site, watching):
        switch.touch()
        watching.process.send_signal(signal.SIGHUP)
        site.until_status(lambda said: "not-judged" in str(said["alarms"]), "it is told")
        hot_beer_is_not_heated(device, watching)
        heats_again(device, watching)
