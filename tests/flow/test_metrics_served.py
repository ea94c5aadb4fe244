"""`fermwatch metrics` beside a watcher: thermometers on a 1-Wire bus, through the store, to who asks over HTTP."""

import contextlib
import http.client
import os
import shlex
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from fermwatch_sim.one_wire import OneWireBus
from tests.support.running import GUARD_S, Site, probe, until, vessel

BEER = "28-0316a2794d31"


@pytest.fixture
def bus(tmp_path: Path) -> OneWireBus:
    made = OneWireBus(tmp_path / "bus")
    made.plug_in()
    made.measures(BEER, 19.5)
    return made


@pytest.fixture
def site(tmp_path: Path, bus: OneWireBus) -> Site:
    made = Site(tmp_path / "site")
    source = f'[[source]]\nname = "bus"\ndriver = "one-wire"\ndirectory = "{bus.devices}"\nevery_s = 0.2'
    made.configure(source, vessel(), probe("left-beer", "bus", BEER, "every_s = 0.5", "silent_after_s = 3"))
    return made


@contextlib.contextmanager
def served(site: Site, *words: str) -> Iterator[int]:
    """The port on which it serves."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    process = subprocess.Popen(
        [*site.command("metrics"), "--port", str(port), *words], stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    try:
        assert process.stdout is not None
        assert f"http://127.0.0.1:{port}/metrics".encode() in process.stdout.readline()
        yield port
        process.terminate()
        assert process.wait(GUARD_S) == 0
    finally:
        process.kill()
        process.communicate(timeout=GUARD_S)


def asked(port: int, path: str = "/metrics", method: str = "GET", **headers: str) -> tuple[int, str, str]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=GUARD_S)
    with contextlib.closing(connection):
        connection.request(method, path, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.headers["Content-Type"], answer.read().decode()


def samples(port: int) -> dict[str, float]:
    status, kind, text = asked(port)
    assert status == 200, text
    assert kind == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    families = text_string_to_metric_families(text)  # type: ignore[no-untyped-call]
    return {one.name: float(one.value) for family in families for one in family.samples}


VALUE, TIME = "fermwatch_probe_temperature_celsius", "fermwatch_probe_last_reading_timestamp_seconds"


def test_a_stale_value_goes_and_its_time_stays_and_a_dead_watcher_is_told(site: Site, bus: OneWireBus) -> None:
    with site.watched() as watching, served(site) as port:
        until(lambda: samples(port).get(VALUE) == 19.5, "it is heard")
        bus.remove(BEER)
        until(lambda: VALUE not in samples(port), "it is silent")
        assert TIME in samples(port)
        bus.measures(BEER, 18.25)
        until(lambda: samples(port).get(VALUE) == 18.25, "it is back")
        watching.stop()
        until(lambda: samples(port)["fermwatch_watched"] == 0.0, "nobody watches")
        assert VALUE not in samples(port)
        once = site.run("metrics", "--once")
        assert once.stdout.endswith("# EOF\n")
        assert "fermwatch_watched 0" in once.stdout


def test_a_container_is_healthy_while_its_watcher_lives(site: Site) -> None:
    """By the very line of the Containerfile, whose image is built elsewhere."""
    lines = (Path(__file__).parents[2] / "Containerfile").read_text(encoding="utf-8").splitlines()
    (line,) = [one for one in lines if one.startswith("HEALTHCHECK")]
    command = line.partition(" CMD ")[2]
    assert command.startswith("fermwatch metrics --once |")
    here = f"{shlex.join(site.command())} {command.removeprefix('fermwatch ')}"

    def is_healthy() -> bool:
        return subprocess.run(["sh", "-c", here], capture_output=True, check=False, timeout=GUARD_S).returncode == 0

    assert not is_healthy()
    with site.watched() as watching:
        until(is_healthy, "it is watched")
        watching.stop()
    assert not is_healthy()


def test_it_is_for_this_machine_alone_and_only_to_be_read(site: Site) -> None:
    with site.watched(), served(site) as port:
        listening = [
            line.split()[1] for line in Path("/proc/net/tcp").read_text().splitlines() if f":{port:04X} " in line
        ]
        assert set(listening) == {f"0100007F:{port:04X}"}
        for method in ("POST", "PUT", "DELETE", "OPTIONS"):
            assert asked(port, method=method)[0] == 405
        for path in ("/etc/passwd", "/../metrics", "/metrics/x"):
            assert asked(port, path)[0] == 404
        assert asked(port, Host="a.page.somewhere.invalid")[0] == 421
        assert asked(port, Host=f"localhost:{port}")[0] == 200


def test_who_asks_nonsense_or_nothing_keeps_nobody_else_from_asking(site: Site) -> None:
    with site.watched(), served(site) as port, contextlib.ExitStack() as held:
        for data in (
            b"",
            b"\x00\xff" * 5000,
            b"GET /metrics HTTP/1.1\r\n",
            b"x" * 100_000,
            os.urandom(4096) + b"\r\n\r\n",
        ):
            other = held.enter_context(socket.create_connection(("127.0.0.1", port)))
            with contextlib.suppress(OSError):
                other.sendall(data)
        assert "fermwatch_watched" in samples(port)


def test_while_the_store_is_away_it_says_so_and_serves_on(site: Site) -> None:
    with site.watched() as watching:
        watching.stop()
    with served(site) as port:
        assert asked(port)[0] == 200
        (site.store / "home.db").rename(site.store / "elsewhere.db")
        until(lambda: asked(port)[0] == 503, "it is away")
        assert "Traceback" not in asked(port)[2]
        (site.store / "elsewhere.db").rename(site.store / "home.db")
        until(lambda: asked(port)[0] == 200, "it is back")


def test_a_port_that_is_taken_or_not_said_is_one_sentence(site: Site) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        refused = site.run("metrics", "--port", str(other.getsockname()[1]))
    assert refused.returncode == 1
    assert "cannot be listened on" in refused.stderr
    nowhere = site.run("metrics")
    assert nowhere.returncode == 78
    assert "[metrics] port = 9464" in nowhere.stderr
    for said in (refused, nowhere):
        assert len(said.stderr.splitlines()) == 2
