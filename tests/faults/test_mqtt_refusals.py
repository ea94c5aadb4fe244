"""Brokers that are absent, refuse us, hang, speak something else, or let somebody else in under our name."""

import asyncio
import contextlib
import gc
import os
import random
import subprocess
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest

from fermwatch.clock import SystemClock
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ProbeError, ProbeRefused, ProbeUnavailable
from fermwatch_drivers.mqtt import login as mqtt
from fermwatch_drivers.mqtt.driver import DRIVER, MqttDriver
from tests.conformance.recording import GUARD_S, RecordingIntake, eventually
from tests.support.broker import Broker, free_port

CHANNEL = "left/t"
Handler = Callable[[asyncio.StreamReader, asyncio.StreamWriter], object]


def driver_on(port: int, **more: object) -> MqttDriver:
    said = {"host": "127.0.0.1", "port": port, "topic": "cellar/{fermenter}/{what}", **more}
    return DRIVER.create("cellar", DRIVER.options.model_validate(said), [CHANNEL], SystemClock(), Wires())


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


async def failure(driver: MqttDriver) -> ProbeError:
    with pytest.raises(ProbeError) as caught:
        await asyncio.wait_for(driver.run(RecordingIntake()), GUARD_S)
    assert str(caught.value).isprintable(), "one harmless line"
    return caught.value


@contextlib.asynccontextmanager
async def server(handler: Handler) -> AsyncIterator[int]:
    listening = await asyncio.start_server(handler, "127.0.0.1", 0)  # type: ignore[arg-type]
    try:
        yield listening.sockets[0].getsockname()[1]
    finally:
        listening.close()


async def test_an_absent_broker_is_unavailable() -> None:
    error = await failure(driver_on(free_port()))
    assert isinstance(error, ProbeUnavailable)
    assert "No broker answers at 127.0.0.1:" in str(error)


async def test_an_unknown_name_is_unavailable() -> None:
    error = await failure(driver_on(1883, host="no-such-host.invalid"))
    assert isinstance(error, ProbeUnavailable)
    assert "no-such-host.invalid" in str(error)


async def test_a_port_that_speaks_something_else_is_named() -> None:
    async def hang_up(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(1)
        writer.close()

    async with server(hang_up) as port:
        assert "hangs up" in str(await failure(driver_on(port)))


NONSENSE = [
    b"HTTP/1.1 400 Bad Request\r\n\r\n",
    b"\xff" * 64,
    b"\x00",
    b"\x20\x01\x00",
    b"\x20\x03\x00\x00\xff",
    b"\x20\x05\x00\x00\x02\xee\xee",
    b"\x20\x03\x00\xfe\x00",
    b"\x30\x02\x00\xff",
]


@pytest.mark.parametrize("answer", NONSENSE)
async def test_an_answer_that_is_no_mqtt_is_survived(
    answer: bytes, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async def babble(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(1)
        writer.write(answer)
        await reader.read()
        writer.close()

    monkeypatch.setattr(mqtt, "ANSWER_LIMIT_S", 0.3)
    async with server(babble) as port:
        before = len(asyncio.all_tasks()), descriptors()
        assert isinstance(await failure(driver_on(port)), ProbeUnavailable)
        await eventually(lambda: len(asyncio.all_tasks()) <= before[0] and descriptors() <= before[1])
    gc.collect()
    assert not caplog.records, "nothing that only a programmer understands"


async def test_a_broker_that_goes_mad_is_one_clear_line_each_time(caplog: pytest.LogCaptureFixture) -> None:
    chance = random.Random(8)

    async def mad(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(1024)
        writer.write(b"\x20\x03\x00\x00\x00")
        subscribe = await reader.read(1024)
        writer.write(b"\x90\x04" + subscribe[2:4] + b"\x00\x01")
        kind = chance.choice([0x30, 0x32, 0x33, 0x34, 0x40, 0x62, 0x90, 0xD0, 0xE0, 0xF0, chance.randrange(256)])
        body = chance.randbytes(chance.randrange(60))
        writer.write(bytes([kind, len(body)]) + body)
        await asyncio.sleep(0.005)
        writer.close()

    async with server(mad) as port:
        before = descriptors()
        for _ in range(60):
            assert isinstance(await failure(driver_on(port)), ProbeUnavailable)
        await eventually(lambda: descriptors() <= before)
    gc.collect()
    assert not caplog.records, "nothing that only a programmer understands"


async def test_a_port_that_never_answers_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    async def sleep(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read()
        writer.close()

    monkeypatch.setattr(mqtt, "ANSWER_LIMIT_S", 0.3)
    async with server(sleep) as port:
        assert isinstance(await failure(driver_on(port)), ProbeUnavailable)


class OldBroker:
    """Knows MQTT 3.1.1 only: refuses 5 as the older standard says, and sends one message to who asks in its own."""

    def __init__(self) -> None:
        self.versions: list[int] = []
        self.acknowledged = asyncio.Event()

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        connect = await reader.read(1024)
        version = connect[8]  # after the fixed header and the six bytes of "MQTT", MQTT 3.1.1 section 3.1.2
        self.versions.append(version)
        writer.write(b"\x20\x02\x00" + (b"\x00" if version == 4 else b"\x01"))
        if version == 4:
            subscribe = await reader.read(1024)
            writer.write(b"\x90\x03" + subscribe[2:4] + b"\x01")
            topic = b"cellar/left/t"
            writer.write(bytes([0x32, len(topic) + 8, 0, len(topic)]) + topic + b"\x00\x07" + b"19.5")
            if await reader.readexactly(4) == b"\x40\x02\x00\x07":
                self.acknowledged.set()
            await reader.read()
        writer.close()


async def test_a_broker_that_knows_only_3_1_1_is_spoken_to_so() -> None:
    old, intake = OldBroker(), RecordingIntake()
    async with server(old.serve) as port:
        running = asyncio.create_task(driver_on(port).run(intake))
        await intake.until_heard(CHANNEL, 19.5)
        await asyncio.wait_for(old.acknowledged.wait(), GUARD_S)
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    assert old.versions == [5, 4]
    assert intake.details[0].endswith("MQTT 3.1.1")


@pytest.mark.needs_broker
async def test_a_wrong_password_names_the_user_and_a_right_one_lets_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    secret = tmp_path / "secret"
    secret.write_text("wrong\n")
    secret.chmod(0o600)
    monkeypatch.setenv("CELLAR_PASSWORD", "hop-cone-7")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    with Broker(tmp_path / "broker", users={"brewer": "hop-cone-7"}) as broker:
        error = await failure(driver_on(broker.port, username="brewer", password_file=str(secret)))
        assert isinstance(error, ProbeRefused)
        assert '"brewer"' in str(error)
        assert "wrong" not in str(error)
        assert "without a login" in str(await failure(driver_on(broker.port)))
        secret.write_text("hop-cone-7\n")
        for way in (
            {"password_file": str(secret)},
            {"password_env": "CELLAR_PASSWORD"},
            {"password_credential": "secret"},
        ):
            intake = RecordingIntake()
            running = asyncio.create_task(driver_on(broker.port, username="brewer", **way).run(intake))
            await intake.until_connected()
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)


async def test_a_password_that_cannot_be_had_is_a_persons_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CREDENTIALS_DIRECTORY", raising=False)
    os.mkfifo(tmp_path / "pipe", 0o600)
    loose = {mode: tmp_path / f"secret-{mode:o}" for mode in (0o644, 0o640, 0o622)}
    for mode, file in loose.items():
        file.write_text("hop-cone-7")
        file.chmod(mode)
    ways: list[tuple[dict[str, str], str]] = [
        ({"password_env": "NO_SUCH_VARIABLE_HERE"}, "NO_SUCH_VARIABLE_HERE"),
        ({"password_credential": "cellar"}, "LoadCredential=cellar"),
        ({"password_file": str(tmp_path / "absent")}, "absent"),
        ({"password_file": str(tmp_path / "pipe")}, "pipe: it is no regular file."),
        *(({"password_file": str(file)}, f"(mode {mode:o}). Run: chmod 600 {file}") for mode, file in loose.items()),
    ]
    for way, says in ways:
        error = await failure(driver_on(free_port(), username="brewer", **way))
        assert isinstance(error, ProbeRefused)
        assert says in str(error)
        assert "hop-cone-7" not in str(error)


@pytest.mark.needs_broker
async def test_a_topic_that_the_access_list_forbids_is_named(tmp_path: Path) -> None:
    access = tmp_path / "access"
    access.write_text("topic readwrite attic/#\n")
    access.chmod(0o600)
    with Broker(tmp_path / "broker", settings=[f"acl_file {access}"]) as broker:
        intake = RecordingIntake()
        running = asyncio.create_task(driver_on(broker.port).run(intake))
        done, _ = await asyncio.wait({running}, timeout=1.0)
        if done:  # later brokers refuse the subscription, this one lets it stand and sends nothing
            assert "does not let us read cellar/+/+" in str(running.exception())
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)


@pytest.mark.needs_broker
async def test_somebody_else_under_our_client_id_is_named(tmp_path: Path) -> None:
    with Broker(tmp_path / "broker") as broker:
        told: list[str] = []

        async def keep_running(driver: MqttDriver) -> None:
            while True:
                told.append(str(await failure(driver)))

        two = [asyncio.create_task(keep_running(driver_on(broker.port))) for _ in range(2)]
        await eventually(lambda: any("client id" in text for text in told))
        for one in two:
            one.cancel()
        await asyncio.gather(*two, return_exceptions=True)
    (text,) = {text for text in told if "client id" in text}
    assert '"fermwatch-cellar"' in text
    assert "Give each its own client_id" in text


@pytest.mark.needs_broker
async def test_a_broker_that_hangs_does_not_hold_up_a_stop(tmp_path: Path) -> None:
    with Broker(tmp_path / "broker") as broker:
        intake = RecordingIntake()
        running = asyncio.create_task(driver_on(broker.port).run(intake))
        await intake.until_connected()
        broker.pause()
        running.cancel()
        _, pending = await asyncio.wait({running}, timeout=4.0)
        assert not pending
        starting = asyncio.create_task(driver_on(broker.port).run(intake))
        await asyncio.sleep(0.1)
        starting.cancel()
        _, pending = await asyncio.wait({starting}, timeout=4.0)
        assert not pending


def openssl(*arguments: str) -> None:
    subprocess.run(["openssl", *arguments], check=True, capture_output=True, timeout=60)


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A directory with ca.pem, and a certificate and key for localhost made by that authority."""
    home = tmp_path_factory.mktemp("authority")
    end = ["-addext", "subjectAltName=DNS:localhost", "-addext", "basicConstraints=CA:FALSE"]
    signed = ["-CA", f"{home}/ca.pem", "-CAkey", f"{home}/ca.key"]
    new = ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2"]
    openssl(*new, "-subj", "/CN=An invented authority", "-keyout", f"{home}/ca.key", "-out", f"{home}/ca.pem")
    files = ["-keyout", f"{home}/broker.key", "-out", f"{home}/broker.pem"]
    openssl(*new, "-subj", "/CN=localhost", *end, *signed, *files)
    return home


@pytest.mark.needs_broker
async def test_each_fault_of_tls_is_told_apart(tmp_path: Path, authority: Path) -> None:
    (tmp_path / "no-certificate").write_text("hello\n")
    files = [f"certfile {authority}/broker.pem", f"keyfile {authority}/broker.key"]
    trusted = {"tls": True, "host": "localhost", "ca_file": str(authority / "ca.pem")}
    with Broker(tmp_path / "broker", settings=files) as broker:
        intake = RecordingIntake()
        running = asyncio.create_task(driver_on(broker.port, **trusted).run(intake))
        await intake.until_connected()
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        assert "is not trusted" in str(await failure(driver_on(broker.port, tls=True, host="localhost")))
        assert "for another name" in str(await failure(driver_on(broker.port, **{**trusted, "host": "127.0.0.1"})))
        plain = driver_on(broker.port)
        assert "needs tls = true" in str(await failure(plain))
        for file, says in (("absent", "No such file"), ("no-certificate", "PEM")):
            error = await failure(driver_on(broker.port, **{**trusted, "ca_file": str(tmp_path / file)}))
            assert isinstance(error, ProbeRefused)
            assert says in str(error)


CA_SETTINGS = """
[ca]
default_ca = here
[here]
database = {home}/index
new_certs_dir = {home}
rand_serial = yes
default_md = sha256
policy = any
x509_extensions = end
copy_extensions = copy
[any]
commonName = supplied
[end]
basicConstraints = CA:FALSE
"""


def certificate(authority: Path, home: Path, start: str, end: str) -> Path:
    """A certificate for localhost that is valid between two moments (YYYYMMDDHHMMSSZ)."""
    home.mkdir()
    (home / "index").touch()
    (home / "ca.conf").write_text(CA_SETTINGS.format(home=home))
    name = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"]
    openssl("req", "-new", "-key", f"{authority}/broker.key", *name, "-out", f"{home}/request")
    signed = ["-cert", f"{authority}/ca.pem", "-keyfile", f"{authority}/ca.key", "-in", f"{home}/request", "-notext"]
    moments = ["-startdate", start, "-enddate", end]
    openssl("ca", "-batch", "-config", f"{home}/ca.conf", *signed, *moments, "-out", f"{home}/pem")
    return home / "pem"


@pytest.mark.needs_broker
@pytest.mark.parametrize(
    ("start", "end", "says"),
    [("20200101000000Z", "20200102000000Z", "has expired"), ("20990101000000Z", "20990102000000Z", "is not valid yet")],
)
async def test_a_certificate_out_of_its_time_points_at_the_clock(
    tmp_path: Path, authority: Path, start: str, end: str, says: str
) -> None:
    file = certificate(authority, tmp_path / "ca", start, end)
    files = [f"certfile {file}", f"keyfile {authority}/broker.key"]
    with Broker(tmp_path / "broker", settings=files) as broker:
        driver = driver_on(broker.port, tls=True, host="localhost", ca_file=str(authority / "ca.pem"))
        text = str(await failure(driver))
    assert says in text
    assert "clock" in text


@pytest.mark.needs_broker
async def test_tls_to_a_plain_port_is_told_apart(tmp_path: Path) -> None:
    with Broker(tmp_path / "broker") as broker:
        assert "TLS" in str(await failure(driver_on(broker.port, tls=True)))
