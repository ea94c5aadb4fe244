"""fermwatch as a user runs it: processes of its own over one site's directory, and what they say."""

import contextlib
import json
import os
import secrets
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from fermwatch.access import user_name
from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.ids import new_ulid
from fermwatch.inbox.sending import put
from fermwatch.model.batch import Batch
from fermwatch.model.reading import Reading
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import to_plain
from tests.support.stores import open_reader

T = TypeVar("T")

GUARD_S = 45.0  # against hanging only
ALE = Yeast("ale", "an invented ale yeast", 17.0, 21.0, 0.72, 0.78)


def until(ask: Callable[[], T], what: str, *, guard_s: float = GUARD_S, seen: Callable[[], str] = str) -> T:
    """Ask until the answer is true, and return it. AssertionError, with what was `seen`, where it never is."""
    end_s = time.monotonic() + guard_s
    while True:
        answer = ask()
        if answer:
            return answer
        if time.monotonic() > end_s:
            raise AssertionError(f"not within {guard_s:g} s: {what}\n{seen()}")
        time.sleep(0.05)


@dataclass
class Watching:
    """A watcher that runs."""

    process: subprocess.Popen[bytes]
    log_file: Path
    log_from: int

    def log(self) -> str:
        """What this one, and none before it, wrote to standard error."""
        return self.log_file.read_bytes()[self.log_from :].decode("utf-8", "replace")

    def says(self, text: str) -> None:
        """Wait until its log holds `text`."""
        until(lambda: text in self.log(), f"the log says {text!r}", seen=self.log)

    def stop(self) -> int:
        """Stop it as systemd does; its exit status."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(GUARD_S)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(GUARD_S)

    def descriptors(self) -> int:
        return len(list(Path(f"/proc/{self.process.pid}/fd").iterdir()))


@dataclass
class Site:
    """One site in a directory of its own: `fermwatch.toml`, the store, the log of its watchers."""

    directory: Path
    environment: dict[str, str] = field(default_factory=dict)
    run_by: tuple[str, ...] = ()  # the words of a program that runs the watcher, as setpriv
    place: tuple[str, ...] = ()  # options of every command, as --store

    @property
    def config(self) -> Path:
        return self.directory / "fermwatch.toml"

    @property
    def store(self) -> Path:
        return self.directory / "store"

    def configure(self, *tables: str) -> None:
        """Write the configuration: the store's place, and `tables` as they are."""
        self.directory.mkdir(parents=True, exist_ok=True)
        self.config.write_text("\n".join(('[store]\ndirectory = "store"', *tables, "")))

    def command(self, *words: str) -> list[str]:
        return [sys.executable, "-m", "fermwatch", "--config", str(self.config), *self.place, *words]

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        """A command to its end, without a terminal."""
        return subprocess.run(
            self.command(*words),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            env={**os.environ, **self.environment},
        )

    @contextlib.contextmanager
    def watched(self) -> Iterator[Watching]:
        """A watcher that is ready on entry, and killed on exit where it still runs."""
        watching = self.start()
        try:
            watching.says("watching home")
            yield watching
        finally:
            watching.kill()

    def start(self) -> Watching:
        """A watcher that was just started."""
        log_file = self.directory / "watcher.log"
        log_from = log_file.stat().st_size if log_file.exists() else 0
        with log_file.open("ab") as log:
            process = subprocess.Popen(
                [*self.run_by, *self.command("watch")],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                env={**os.environ, **self.environment},
            )
        return Watching(process, log_file, log_from)

    def status(self) -> Mapping[str, Any]:
        """What `fermwatch status --json` says."""
        done = self.run("status", "--json")
        assert done.returncode == 0, done.stderr
        said: Mapping[str, Any] = json.loads(done.stdout)
        return said

    def until_status(
        self, holds: Callable[[Mapping[str, Any]], Any], what: str, *, guard_s: float = GUARD_S
    ) -> Mapping[str, Any]:
        """Ask for the status until it is so."""
        said: dict[str, Any] = {}

        def ask() -> bool:
            said.update(self.status())
            return bool(holds(said))

        until(ask, what, guard_s=guard_s, seen=lambda: f"{json.dumps(said, indent=1)}\n{self.log()}")
        return said

    def log(self) -> str:
        return (self.directory / "watcher.log").read_text(errors="replace")

    def readings(self, probe: str) -> Sequence[Reading]:
        """Every row of a probe, in time order."""
        with open_reader(self.store, "home") as reader:
            number = next(one.series for one in reader.series() if one.probe.slug == probe)
            now = datetime.now(UTC)
            return reader.readings(number, now - timedelta(days=90), now + timedelta(days=1))

    def ask(self, kind: RequestKind, payload: Mapping[str, Any], *, user: str = "tester") -> str:
        """Put a request into the inbox, as a command does; the key of its outcome."""
        now = datetime.now(UTC)
        request = Request(
            new_ulid(round(now.timestamp() * 1000), secrets.token_bytes(10)), "home", kind, payload, user, now
        )
        put(self.store, request)
        return replace(request, user=user_name(os.geteuid())).key

    def open_batch(self, vessel: str, *, age: timedelta = timedelta(days=2)) -> str:
        """An ale that was pitched so long ago, in range from 17 to 21 °C; its id, once the watcher follows it.

        After a day and a half without a gravity it asks for signs of life: `see_life` answers.
        """
        now = datetime.now(UTC)
        batch = Batch(f"batch-{vessel}", "Invented ale", vessel, 1.050, now - age, 19.0, ALE)
        plain = to_plain(batch)
        assert isinstance(plain, dict)
        request = self.ask(RequestKind.OPEN_BATCH, plain)
        with open_reader(self.store, "home") as reader:
            outcome = until(lambda: reader.outcome(request), "the batch is opened", seen=self.log)
        assert outcome is not None
        assert outcome.state == "done", outcome
        return batch.id

    def see_life(self, vessel: str) -> None:
        """Somebody looked and found the beer fermenting."""
        done = self.run("note", vessel, "signs-of-life", "--yes")
        assert done.returncode == 0, done.stderr


def vessel(slug: str = "left") -> str:
    return f'[[vessel]]\nid = "{slug}"\nname = "{slug.title()}"\nvolume_l = 30'


def probe(slug: str, source: str, channel: str, *more: str, vessel: str = "left") -> str:
    """A beer temperature probe."""
    lines = ("[[probe]]", f'id = "{slug}"', f'vessel = "{vessel}"', f'source = "{source}"', f"channel = '{channel}'")
    own = more if any(line.startswith("quantity") for line in more) else ('quantity = "beer-temperature"', *more)
    return "\n".join((*lines, *own))


def serial_source(name: str, port: Path, *more: str, form: str = "pairs") -> str:
    lines = ("[[source]]", f'name = "{name}"', 'driver = "serial-line"', f'port = "{port}"', f'format = "{form}"')
    return "\n".join((*lines, "settle_s = 0", *more))


def mqtt_source(name: str, port: int, topic: str, *more: str) -> str:
    lines = ("[[source]]", f'name = "{name}"', 'driver = "mqtt"', 'host = "127.0.0.1"', f"port = {port}")
    return "\n".join((*lines, f'topic = "{topic}"', *more))


def value_of(status: Mapping[str, Any], slug: str) -> float | None:
    """What the status says of a probe."""
    shown = probe_of(status, slug)
    found = next((value for key, value in shown.items() if key.startswith("value_")), None)
    return None if found is None else float(found)


def probe_of(status: Mapping[str, Any], slug: str) -> Mapping[str, Any]:
    probes = (one for lane in status["fermenters"] for one in lane["probes"])
    found: Mapping[str, Any] = next(one for one in probes if one["probe"] == slug)
    return found


def source_of(status: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(one for one in status["sources"] if one["name"] == name)
    return found


def standing(status: Mapping[str, Any]) -> set[str]:
    """The rules whose alarms stand."""
    return {alarm["rule"] for alarm in status["alarms"] if alarm["stands"]}
