"""A real mosquitto on a free loopback port, started, stopped and killed by a test."""

import contextlib
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

_GUARD_S = 20.0  # against hanging only


def available() -> bool:
    return _program("mosquitto") is not None and _program("mosquitto_pub") is not None


def _program(name: str) -> str | None:
    """Debian puts the broker into /usr/sbin, which is not on everybody's path."""
    return shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Broker:
    """A mosquitto of one's own, with its files in `directory`. A context manager: started on entry, gone on exit.

    users: name -> password; without any, everybody may log in.
    settings: further lines for mosquitto.conf, as "max_queued_messages 0".
    """

    directory: Path
    port: int = field(default_factory=free_port)
    users: dict[str, str] = field(default_factory=dict)
    persistence: bool = True
    max_queued_messages: int | None = None
    max_inflight_messages: int | None = None
    settings: Sequence[str] = ()
    log_types: str = "all"
    _process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it answers."""
        program = _program("mosquitto")
        if program is None:
            raise RuntimeError("mosquitto is not installed (apt-get install mosquitto mosquitto-clients)")
        self.directory.mkdir(parents=True, exist_ok=True)
        configuration = self.directory / "mosquitto.conf"
        configuration.write_text("\n".join(self._lines()) + "\n")
        with (self.directory / "mosquitto.log").open("ab") as log:
            self._process = subprocess.Popen([program, "-c", str(configuration)], stdout=log, stderr=log)
        guard = time.monotonic() + _GUARD_S
        while not self._answers():
            if self._process.poll() is not None or time.monotonic() > guard:
                raise RuntimeError(f"mosquitto did not start:\n{self.log()}")
            time.sleep(0.02)

    def stop(self) -> None:
        """Ask it to end: it saves its sessions if persistence is on."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it as a power cut would."""
        self._end(signal.SIGKILL)

    def restart(self) -> None:
        self.stop()
        self.start()

    def pause(self) -> None:
        """Let it hang: connections stay, nothing answers."""
        if self._process is not None:
            self._process.send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        if self._process is not None:
            self._process.send_signal(signal.SIGCONT)

    def publish(self, topic: str, payload: str | bytes, *, qos: int = 1, retain: bool = False) -> None:
        """One message by mosquitto_pub."""
        self._publish(topic, ["-s"], payload, qos=qos, retain=retain)

    def clear(self, topic: str) -> None:
        """Have it forget what was retained there."""
        command = ["mosquitto_pub", "-h", "127.0.0.1", "-p", str(self.port), "-t", topic, "-r", "-n"]
        subprocess.run(command, check=True, timeout=60, capture_output=True)

    def publish_lines(self, topic: str, lines: Sequence[str], *, qos: int = 1) -> None:
        """One message for each line by one mosquitto_pub."""
        self._publish(topic, ["-l"], "\n".join(lines) + "\n", qos=qos, retain=False)

    def log(self) -> str:
        return (self.directory / "mosquitto.log").read_text(errors="replace")

    def _publish(self, topic: str, how: list[str], said: str | bytes, *, qos: int, retain: bool) -> None:
        login = [part for name, word in list(self.users.items())[:1] for part in ("-u", name, "-P", word)]
        flags = ["-r"] if retain else []
        command = ["mosquitto_pub", "-h", "127.0.0.1", "-p", str(self.port), "-t", topic, "-q", str(qos)]
        data = said.encode() if isinstance(said, str) else said
        subprocess.run([*command, *login, *flags, *how], input=data, check=True, timeout=60, capture_output=True)

    def _lines(self) -> list[str]:
        lines = [
            f"listener {self.port} 127.0.0.1",
            f"log_type {self.log_types}",
            f"allow_anonymous {str(not self.users).lower()}",
        ]
        if self.users:
            lines.append(f"password_file {self._password_file()}")
        if self.persistence:
            lines += ["persistence true", f"persistence_location {self.directory}/"]
        if self.max_queued_messages is not None:
            lines.append(f"max_queued_messages {self.max_queued_messages}")
        if self.max_inflight_messages is not None:
            lines.append(f"max_inflight_messages {self.max_inflight_messages}")
        # Where it is started by root it would become another user, who may not write into our directory.
        return [*lines, "user root", *self.settings]

    def _password_file(self) -> Path:
        path = self.directory / "users"
        path.write_text("".join(f"{name}:{word}\n" for name, word in self.users.items()))
        path.chmod(0o600)
        subprocess.run(["mosquitto_passwd", "-U", str(path)], check=True, timeout=30, capture_output=True)
        return path

    def _answers(self) -> bool:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
            return True
        return False

    def _end(self, how: signal.Signals) -> None:
        if self._process is None:
            return
        self._process.send_signal(signal.SIGCONT)
        self._process.send_signal(how)
        self._process.wait(_GUARD_S)
        self._process = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill()
