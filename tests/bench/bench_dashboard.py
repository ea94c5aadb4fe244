"""The dashboard on a real terminal: first frame beside a Textual program that says hello, then bytes and CPU a second.

Run it: python -m tests.bench.bench_dashboard. Ratios are taken within a round; wall times are one machine's.
"""

import compileall
import os
import select
import statistics
import sys
import tempfile
import time
from pathlib import Path

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
}
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


def steady(arguments: list[str], keys: bytes = b"") -> tuple[float, float, float]:
    """After these keys: bytes a second, CPU in per cent of a core, resident memory in MB."""
    with Terminal(arguments, columns=120, rows=40) as terminal:
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
        rows.append(f"steady, 12 fermenters at 120x40, {WATCH_S:g} s each")
        for name, arguments, keys in (
            ("hello", [str(hello)], b""),
            ("still", ["-m", "tests.dashboard.program", "twelve-still"], b""),
            ("one in five", ["-m", "tests.dashboard.program", "twelve-some"], b""),
            ("all", ["-m", "tests.dashboard.program", "twelve-all"], b""),
            ("one open", ["-m", "tests.dashboard.program", "twelve-all"], b"\r"),
        ):
            sent, cpu, memory = steady(arguments, keys)
            goal = f"   goal <= {GOALS[name]:g} B/s" if name in GOALS else ""
            rows.append(f"  {name:<12}{sent:8.0f} B/s {cpu:6.2f} % CPU {memory:6.1f} MB{goal}")
    return "\n".join(rows)


if __name__ == "__main__":
    sys.stdout.write(report() + "\n")
