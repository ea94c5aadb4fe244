"""The command line as a person types it, over a real store, with the watcher played in the test's own process."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.cli import _module, parser_for
from fermwatch.clock import ManualClock, to_ms
from fermwatch.commands.context import Context
from fermwatch.contracts.inbox import Outcome
from fermwatch.contracts.store import Reader, WatcherStatus
from fermwatch.errors import FermwatchError
from fermwatch.inbox.receiving import open_inbox
from fermwatch.model.probe import Calibration, Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Reading
from fermwatch.watching.logbook import Logbook
from tests.support.stores import open_reader, open_writer

VESSELS = (Vessel("left", "Left bucket", 23.0), Vessel("right", "Right bucket", 30.0))
PROBES = (
    Probe("left-beer", "left", Quantity.BEER_TEMPERATURE, "board", "t1", Unit.CELSIUS, calibration=Calibration(0.5)),
    Probe("left-float", "left", Quantity.GRAVITY, "float", "g1", Unit.SG, silent_after_s=3600.0),
)


@dataclass(frozen=True)
class Said:
    status: int
    text: str
    error: str


@dataclass
class CommandLine:
    """type: words to what was said. attend: what a watcher would do of it."""

    directory: Path
    clock: ManualClock
    capture: pytest.CaptureFixture[str]

    def type(self, *words: str) -> Said:
        self.capture.readouterr()
        options = parser_for(words).parse_args(words)
        context = Context(None, self.directory, "home", dict(os.environ), self.clock, options.units)
        try:
            status = _module(options.command).run(options, context)
        except FermwatchError as error:
            context.complain(error)
            status = error.exit_status
        said = self.capture.readouterr()
        return Said(status, said.out, said.err)

    def attend(self) -> list[Outcome]:
        writer = open_writer(self.directory, "home", self.clock.now(), ballast_bytes=4096)
        inbox = open_inbox(self.directory, "home")
        try:
            logbook = Logbook(writer, inbox)
            logbook.begin(self.clock.now())
            return logbook.attend(self.clock.now())
        finally:
            inbox.close()
            writer.close()

    @contextmanager
    def watched(self) -> Iterator[None]:
        """A watcher has looked at everything now, and is there."""
        now = self.clock.now()
        writer = open_writer(self.directory, "home", now, ballast_bytes=4096)
        inbox = open_inbox(self.directory, "home")
        there = WatcherStatus("0", 1, now, now, now)
        try:
            logbook = Logbook(writer, inbox)
            logbook.begin(now)
            logbook.attend(now)
            logbook.decide(now)
            writer.beat(there)
            yield
            writer.beat(replace(there, stopped=True))
        finally:
            inbox.close()
            writer.close()

    def done(self, *words: str) -> Said:
        """Typed, and carried out."""
        said = self.type(*words)
        assert said.status == 0, said.error
        assert [outcome.state for outcome in self.attend()] == ["done"]
        return said

    def hear(self, probe: str, values: dict[datetime, float]) -> None:
        """Let a probe have said these raw values."""
        writer = open_writer(self.directory, "home", self.clock.now(), ballast_bytes=4096)
        series = {one.probe.slug: one.series for one in writer.series()}[probe]
        writer.append([Reading(series, to_ms(at), value) for at, value in values.items()])
        writer.close()

    def hear_steady(self, probe: str, value: float, *, hours: float = 2.0) -> None:
        """The same value every ten minutes until now."""
        now = self.clock.now()
        self.hear(probe, {now - timedelta(minutes=10 * step): value for step in range(1, round(hours * 6) + 1)})

    @contextmanager
    def reader(self) -> Iterator[Reader]:
        with open_reader(self.directory, "home") as reader:
            yield reader


def command_line(directory: Path, now: datetime, capture: pytest.CaptureFixture[str]) -> CommandLine:
    """Over a new store with two fermenters, the site in Vienna; it is `now`."""
    writer = open_writer(directory, "home", now, ballast_bytes=4096)
    writer.declare("Europe/Vienna", VESSELS, PROBES, now - timedelta(days=30))
    writer.close()
    open_inbox(directory, "home").close()
    return CommandLine(directory, ManualClock(now), capture)
