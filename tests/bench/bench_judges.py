"""Many fermenters over weeks: what starting, one note of a person, and a round of decisions cost, and the memory.

A probe of temperature and one of gravity in each fermenter, every five minutes; each size in a process of its own. The
baseline in the same process: the same rows read out of the store once, as bare SQLite gives them.

The aims are those of the largest size, and are printed below it.
"""

import json
import math
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from fermwatch.clock import to_ms
from fermwatch.contracts.inbox import OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import open_inbox
from fermwatch.model.batch import Batch, GravityMeasurement
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.quantity import Quantity, Unit
from fermwatch.model.reading import Reading
from fermwatch.model.yeast import Yeast
from fermwatch.plain_data import to_plain
from fermwatch.watching.logbook import Logbook
from tests.support.stores import open_writer

SIZES = tuple((fermenters, days) for fermenters in (5, 20, 50) for days in (1, 7, 21))
NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
EVERY_MIN = 5
AIMS = {"judged_s": 5.0, "note_ms": 50.0, "round_s": 0.5, "resident_mb": 200.0}  # 50 fermenters of three weeks
YEAST = Yeast("clean-ale", "clean ale", 17.0, 22.0, 0.72, 0.80)


def vessels(count: int) -> list[Vessel]:
    return [Vessel(f"v{number}", f"Vessel {number}", 25.0) for number in range(count)]


def probes(count: int) -> list[Probe]:
    return [
        probe
        for number in range(count)
        for probe in (
            Probe(f"t{number}", f"v{number}", Quantity.BEER_TEMPERATURE, "board", f"t{number}", Unit.CELSIUS),
            Probe(f"g{number}", f"v{number}", Quantity.GRAVITY, "float", f"g{number}", Unit.SG),
        )
    ]


def batches(count: int, days: int) -> list[Batch]:
    pitched = NOW - timedelta(days=days)
    return [Batch(f"B{n}", f"Brew {n}", f"v{n}", 1.050, pitched, 20.0, YEAST) for n in range(count)]


def course(series: int, *, gravity: bool, days: int) -> list[Reading]:
    """An invented ferment: a fall in the shape of an S, and a probe that trembles."""
    rows = []
    for step in range(days * 24 * 60 // EVERY_MIN):
        hour, tremble = step * EVERY_MIN / 60, (step * 7919 % 101 - 50) / 50
        points = 12.0 + 38.0 / (1.0 + math.exp((hour - 45.0) / 9.0)) + tremble
        at_ms = to_ms(NOW - timedelta(days=days)) + step * EVERY_MIN * 60_000
        rows.append(Reading(series, at_ms, 1.0 + points / 1000.0 if gravity else 20.0 + tremble / 10))
    return rows


def fill(directory: Path, fermenters: int, days: int) -> None:
    """A cellar, as a watcher that was killed leaves it."""
    began = NOW - timedelta(days=days)
    with open_writer(directory, "home", began) as writer:
        numbers = writer.declare("UTC", vessels(fermenters), probes(fermenters), began)
        for slug, series in numbers.items():
            writer.append(course(series, gravity=slug.startswith("g"), days=days))
        for one in batches(fermenters, days):
            opened = writer.apply(request(RequestKind.OPEN_BATCH, to_plain(one)), NOW)
            assert opened.state is OutcomeState.DONE, opened.reason


def request(kind: RequestKind, payload: dict[str, Any]) -> Request:
    identity = f"{kind}-{payload.get('id') or payload['measurement']['id']}"
    return Request(identity, "home", kind, payload, "brewer", NOW)


def note(now: datetime) -> Request:
    taken = GravityMeasurement("M1", now - timedelta(minutes=5), 1.012)
    return request(RequestKind.MEASURE, {"batch": "B0", "measurement": to_plain(taken)})


def bare_read_s(directory: Path) -> float:
    began = time.perf_counter()
    with closing(sqlite3.connect(directory / "home.db")) as connection:
        connection.execute("SELECT series, at_ms, value FROM reading ORDER BY series, at_ms").fetchall()
    return time.perf_counter() - began


def resident_mb(kind: int = resource.RUSAGE_SELF) -> float:
    return resource.getrusage(kind).ru_maxrss / 1024


class Spent:
    """Seconds of the store's thread: in all, and of the longest step, which all others wait for."""

    def __init__(self) -> None:
        self.all_s = self.longest_s = 0.0

    def on(self, steps: Iterator[object]) -> None:
        while True:
            began = time.perf_counter()
            done = next(steps, self) is self
            took = time.perf_counter() - began
            self.all_s, self.longest_s = self.all_s + took, max(self.longest_s, took)
            if done:
                return


def round_of(book: Logbook, now: datetime) -> Iterator[None]:
    """As a watcher goes on: nobody waits for a judge."""
    yield from book.making_ready(now)
    book.tell_judges(now)
    yield
    yield from (None for _ in book.deciding(now))


def measured(directory: Path) -> dict[str, float]:
    """All figures of one store; in this process."""
    inbox = open_inbox(directory, "home")
    with open_writer(directory, "home", NOW) as writer, ThreadPoolExecutor(1) as judging:
        began = time.perf_counter()
        book = Logbook(writer, inbox, judging=judging)
        book.begin(NOW)
        serves_s = time.perf_counter() - began
        start = Spent()
        start.on(round_of(book, NOW))
        wait(book.unanswered)
        start.on(round_of(book, NOW))
        judged_s = time.perf_counter() - began
        assert all(writer.judgement(one) for one in writer.open_batches())
        wait(book.unanswered)
        noted, rounds = Spent(), Spent()
        inbox.put(note(NOW))
        noted.on(_noting(book, writer))
        wait(book.unanswered)
        rounds.on(round_of(book, NOW + timedelta(hours=3)))
        wait(book.unanswered)
        rounds.on(book.deciding(NOW + timedelta(hours=3)))
    inbox.close()
    return {
        "serves_s": serves_s,
        "judged_s": judged_s,
        "start_longest_ms": 1000 * start.longest_s,
        "note_ms": 1000 * noted.all_s,
        "round_s": rounds.all_s,
        "round_longest_ms": 1000 * rounds.longest_s,
        "resident_mb": resident_mb(),
        "bare_read_s": bare_read_s(directory),
    }


def _noting(book: Logbook, writer: Writer) -> Iterator[None]:
    """All that a note asks of the store's thread: taken in, and told to its judge."""
    (outcome,) = book.attend(NOW)
    assert outcome.state is OutcomeState.DONE, outcome.reason
    assert writer.measurements("B0")
    yield from book.making_ready(NOW)
    book.tell_judges(NOW)


def told_of(fermenters: int, days: int) -> dict[str, float]:
    """The figures of one size, out of a process of its own."""
    with tempfile.TemporaryDirectory(prefix="bench-judges-", dir="/var/tmp") as name:  # a true disk
        fill(Path(name), fermenters, days)
        command = [sys.executable, "-m", "tests.bench.bench_judges", name]
        told: dict[str, float] = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return told


def line(fermenters: int, days: int, told: dict[str, float]) -> str:
    return (
        f"{fermenters:10} {days:4} {told['serves_s']:8.2f} {told['judged_s']:8.2f} {told['start_longest_ms']:9.0f} "
        f"{told['note_ms']:8.0f} {told['round_s']:8.2f} {told['round_longest_ms']:9.0f} {told['resident_mb']:7.0f} "
        f"{told['bare_read_s']:9.2f}"
    )


def report() -> str:
    """The figures, a line for each size."""
    head = (
        f"{'fermenters':>10} {'days':>4} {'serves s':>8} {'judged s':>8} {'longest ms':>9} {'note ms':>8} "
        f"{'round s':>8} {'longest ms':>9} {'MB':>7} {'bare read s':>9}"
    )
    lines, told = [head], {}
    for size in SIZES:
        told = told_of(*size)
        lines.append(line(*size, told))
    aims = ", ".join(f"{name} {told[name]:.3g} ({aim:g}{_missed(told[name], aim)})" for name, aim in AIMS.items())
    return "\n".join([*lines, f"of the last, with its aims: {aims}"])


def _missed(figure: float, aim: float) -> str:
    return ", MISSED" if figure > aim else ""


if __name__ == "__main__":
    sys.stdout.write(json.dumps(measured(Path(sys.argv[1]))) if len(sys.argv) > 1 else report() + "\n")
