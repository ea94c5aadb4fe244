"""The dashboard on a real terminal: first frame and memory beside a Textual program that says hello, bytes and CPU a
second at several sizes, keys while a thousand readings a second arrive, and a zoom over a year.

Run it: python -m tests.bench.bench_dashboard. Ratios are taken within a round; wall times are one machine's.
"""

import compileall
import os
import select
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench import busy_store
from tests.dashboard.terminal import ROOT, Terminal

ROUNDS = 7
WATCH_S = 12.0
SETTLE_S = 3.0
GOALS = {
    "first frame": 1.25,
    "three vessels on screen": 1.5,
    "still": 50.0,
    "one in five": 2000.0,
    "all": 6000.0,
    "one open": 1000.0,
    "80x24 still": 50.0,
    "80x24 all": 4000.0,
    "80x24 seldom": 1000.0,
    "200x50 all": 12000.0,
}
SMALL, WIDE = (80, 24), (200, 50)
MEMORY_GOAL = 1.5  # times hello's
KEYS, KEY_GOAL_MS = 60, 25.0
ZOOM_GOAL_MS = 50.0
HELLO = """
from textual.app import App
from textual.widgets import Static
class Hello(App):
    def compose(self):
        yield Static("hello")
Hello().run()
"""


def _until_sent(terminal: Terminal, words: bytes, started: float) -> float:
    """Milliseconds from start to the words on the wire."""
    heard = bytearray()
    while words not in heard:
        if not select.select([terminal.master], [], [], 20.0)[0]:
            raise RuntimeError(f"never sent: {words!r}")
        heard += os.read(terminal.master, 65536)
    return (time.perf_counter() - started) * 1000.0


def first_frames(hello: Path) -> dict[str, list[float]]:
    """Start to first frame and to values, interleaved with the hello program."""
    found: dict[str, list[float]] = {"hello": [], "first frame": [], "three vessels on screen": []}
    for _ in range(ROUNDS):
        for name, arguments, words in (
            ("hello", [str(hello)], b"hello"),
            ("first frame", ["-m", "tests.dashboard.program", "three"], b"quit"),
            ("three vessels on screen", ["-m", "tests.dashboard.program", "three"], b"Middle"),
        ):
            started = time.perf_counter()
            with Terminal(arguments, columns=120, rows=40) as terminal:
                found[name].append(_until_sent(terminal, words, started))
    return found


def _cpu_s(pid: int) -> float:
    """CPU seconds of every thread of a process (Linux schedstat counts nanoseconds)."""
    threads = Path(f"/proc/{pid}/task").glob("*/schedstat")
    return sum(int(one.read_text(encoding="ascii").split()[0]) for one in threads) / 1e9


def _memory_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii").splitlines():
        if line.startswith("Rss:"):
            return int(line.split()[1]) / 1024.0
    return 0.0


def _drain(terminal: Terminal, seconds: float) -> int:
    end, count = time.monotonic() + seconds, 0
    while (left := end - time.monotonic()) > 0:
        if select.select([terminal.master], [], [], left)[0]:
            count += len(os.read(terminal.master, 65536))
    return count


def steady(arguments: list[str], keys: bytes = b"", size: tuple[int, int] = (120, 40)) -> tuple[float, float, float]:
    """After these keys: bytes a second, CPU in per cent of a core, resident memory in MB."""
    with Terminal(arguments, columns=size[0], rows=size[1]) as terminal:
        _drain(terminal, SETTLE_S)
        if keys:
            os.write(terminal.master, keys)
            _drain(terminal, SETTLE_S)
        pid = terminal.process.pid
        before = _cpu_s(pid)
        count = _drain(terminal, WATCH_S)
        return count / WATCH_S, (_cpu_s(pid) - before) / WATCH_S * 100.0, _memory_mb(pid)


def report() -> str:
    """The figures as text, each beside its baseline and its goal."""
    for folder in ("fermwatch", "tests"):
        compileall.compile_dir(ROOT / folder, quiet=2)
    with tempfile.TemporaryDirectory() as folder:
        hello = Path(folder) / "hello.py"
        hello.write_text(HELLO, encoding="utf-8")
        frames = first_frames(hello)
        rows = [f"first frame, 120x40, {ROUNDS} interleaved rounds (median ms; ratio to hello within the round)"]
        for name, times in frames.items():
            ratio = statistics.median(one / base for one, base in zip(times, frames["hello"], strict=True))
            goal = f"   goal <= {GOALS[name]:g}" if name in GOALS else ""
            rows.append(f"  {name:<24}{statistics.median(times):7.0f} ms   x {ratio:.2f}{goal}")
        program = ["-m", "tests.dashboard.program"]
        rows.append(f"steady, 12 fermenters, {WATCH_S:g} s each (120x40 where no size is named)")
        hello_mb = 0.0
        for name, arguments, keys, size in (
            ("hello", [str(hello)], b"", (120, 40)),
            ("still", [*program, "twelve-still"], b"", (120, 40)),
            ("one in five", [*program, "twelve-some"], b"", (120, 40)),
            ("all", [*program, "twelve-all"], b"", (120, 40)),
            ("one open", [*program, "twelve-all"], b"\r", (120, 40)),
            ("80x24 still", [*program, "twelve-still"], b"", SMALL),
            ("80x24 all", [*program, "twelve-all"], b"", SMALL),
            ("80x24 seldom", [*program, "twelve-seldom"], b"", SMALL),
            ("200x50 all", [*program, "twelve-all"], b"", WIDE),
        ):
            sent, cpu, memory = steady(arguments, keys, size)
            hello_mb = memory if name == "hello" else hello_mb
            goal = f"   goal <= {GOALS[name]:g} B/s" if name in GOALS else ""
            told = f"  {name:<14}{sent:8.0f} B/s {cpu:6.2f} % CPU {memory:6.1f} MB"
            rows.append(f"{told} x {memory / hello_mb:.2f}{goal}")
        rows.append(f"  memory: goal <= {MEMORY_GOAL:g} x hello")
    rows += [*_keys_row(), _zoom_row()]
    return "\n".join(rows)


def _keys_row() -> list[str]:
    """A key to the frame that it changed, beside a writer of a thousand readings a second in one real store."""
    with tempfile.TemporaryDirectory() as place:
        writer = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.busy_store", place], stdout=subprocess.PIPE, cwd=ROOT
        )
        try:
            if writer.stdout is None or not writer.stdout.readline():
                return ["keys: the writer did not start"]
            took = sorted(key_frames(["-m", "fermwatch", "--store", place, "--site", "home", "dashboard"]))
        finally:
            writer.kill()
            writer.wait()
    middle, p95 = statistics.median(took), took[int(len(took) * 0.95)]
    return [
        f"key to its frame, 1,000 readings a second beside it, {len(took)} keys at 80x24",
        f"  median {middle:.1f} ms, p95 {p95:.1f} ms   goal <= {KEY_GOAL_MS:g} ms; max {took[-1]:.1f} ms",
    ]


def key_frames(arguments: list[str]) -> list[float]:
    """Milliseconds from a key that moves the cursor to the cursor's sign on the wire, at changing moments."""
    took = []
    with Terminal(arguments) as terminal:
        _drain(terminal, SETTLE_S)
        for number in range(KEYS):
            _drain(terminal, 0.05 + (number * 37 % 100) / 250.0)
            started = time.perf_counter()
            os.write(terminal.master, b"j" if number % 2 else b"k")
            took.append(_until_sent(terminal, "\u258c".encode(), started))
    return took


def _zoom_row() -> str:
    took = sorted(busy_store.zooms())
    return (
        f"a zoom over a year of history, read and drawn at 120x40: median {statistics.median(took):.1f} ms, "
        f"worst {took[-1]:.1f} ms   goal <= {ZOOM_GOAL_MS:g} ms"
    )


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
