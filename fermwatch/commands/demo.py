"""`fermwatch demo`: three invented beers, one healthy, one hot, one stalled, live and in a hurry."""

import argparse
import asyncio
import logging
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Coroutine
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

from fermwatch.commands.context import Context
from fermwatch.errors import FermwatchError, InputError
from fermwatch.text import clean

SLOWLY = 600.0  # simulated seconds per real second, on the dashboard: ten minutes
LIVE_STEP = timedelta(minutes=2)
TEXT_STEP = timedelta(minutes=5)
LONG = timedelta(days=28)  # the dashboard's demo goes on until the beer is in its bottles
FASTEST = 1e6


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("scenario", nargs="?", default="demo", help="a shipped scenario's name, or a TOML file")
    parser.add_argument("--text", action="store_true", help="tell it as plain text, to its end, also in a terminal")
    parser.add_argument("--speed", type=float, metavar="N", help="simulated seconds for each real one")
    parser.add_argument("--serve", type=Path, metavar="DIRECTORY", help=argparse.SUPPRESS)


def run(options: argparse.Namespace, context: Context) -> int:
    if options.serve is not None:
        return _serve(options, context)
    if options.speed is not None and not 0 < options.speed < FASTEST:
        raise InputError(
            f"--speed {options.speed:g} cannot be meant.", hint="Simulated seconds for each real one: 600."
        )
    signal.signal(signal.SIGTERM, _leave)  # so that nothing is left behind
    terminal = sys.stdin.isatty() and sys.stdout.isatty() and context.environment.get("TERM") != "dumb"
    directory = Path(tempfile.mkdtemp(prefix="fermwatch-demo-"))
    try:
        if terminal and not options.text:
            return _dashboard(options, context, directory)
        return _tell(options, context, directory)
    except _Ended as ended:
        return ended.exit_status
    finally:
        shutil.rmtree(directory, ignore_errors=True)


class _Ended(KeyboardInterrupt):
    """By a signal. Unlike SystemExit, nobody takes it for a mistake of a plug-in that was just being loaded."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.exit_status = 128 + number


def _leave(number: int, _frame: object) -> None:
    raise _Ended(number)


def _scenario(options: argparse.Namespace):  # type: ignore[no-untyped-def]  # noqa: ANN202
    from fermwatch_sim.scenario import load

    name = options.scenario
    return load(Path(name) if "/" in name or name.endswith(".toml") else name)


def _dashboard(options: argparse.Namespace, context: Context, directory: Path) -> int:
    """The watcher and the cellar in a process of their own; the dashboard here, attached to their store."""
    _scenario(options)  # a mistake in it is told before anything starts
    command = [sys.executable, "-m", "fermwatch", "demo", options.scenario, "--serve", str(directory)]
    if options.speed:
        command += ["--speed", str(options.speed)]
    log = directory / "watcher.log"
    context.say("Setting up an invented cellar: three beers, some days of history.")
    with log.open("w", encoding="utf-8") as errors:
        child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=errors)
    try:
        if child.stdout is None or not child.stdout.readline():
            raise FermwatchError(f"The demo could not start: {clean(log.read_text(encoding='utf-8')[-300:], 300)}")
        from fermwatch.commands.dashboard import show
        from fermwatch.demo.running import SITE

        # What one keeps is not played with, and what is invented calls nobody.
        return show(replace(context, store=directory, site=SITE), keeps=False, bell=False)
    finally:
        _end(child)


def _end(child: "subprocess.Popen[bytes]") -> None:
    for pipe in (child.stdin, child.stdout):
        if pipe is not None:
            pipe.close()
    child.terminate()
    try:
        child.wait(10)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def _serve(options: argparse.Namespace, context: Context) -> int:
    """The child's side: watch until told to stop, or until whoever started it is gone."""
    from fermwatch.commands.watch import start_logging
    from fermwatch.demo import running

    start_logging(verbose=False)
    start = _start_of(context)
    pace = running.Pace(LIVE_STEP, options.speed or SLOWLY, start + LONG)
    audience = running.Audience(ready=_say_ready)

    async def serve() -> None:
        task = asyncio.ensure_future(running.run(_scenario(options), options.serve, start, pace, audience))
        loop = asyncio.get_running_loop()

        def end() -> None:
            """Once: a parent that leaves closes the pipe and sends a signal, and clearing up is not to be cut short."""
            if not task.cancelling():
                task.cancel()

        loop.add_signal_handler(signal.SIGTERM, end)
        loop.add_signal_handler(signal.SIGHUP, end)
        loop.add_reader(sys.stdin.fileno(), partial(_parent_gone, end, loop))
        try:
            await task
        except asyncio.CancelledError:
            return

    try:
        asyncio.run(serve())
    finally:
        shutil.rmtree(options.serve, ignore_errors=True)
    return 0


def _parent_gone(end: Callable[[], None], loop: asyncio.AbstractEventLoop) -> None:
    """Standard input ends with the parent, however it died: nothing is left running, nothing left behind."""
    if not os.read(sys.stdin.fileno(), 64):
        loop.remove_reader(sys.stdin.fileno())
        end()


def _say_ready() -> None:
    sys.stdout.write("ready\n")
    sys.stdout.flush()


def _start_of(context: Context) -> datetime:
    return context.clock.now().replace(second=0, microsecond=0)


def _tell(options: argparse.Namespace, context: Context, directory: Path) -> int:
    """The stories as plain text, as fast as they go, to their end."""
    from fermwatch.commands.story import Story
    from fermwatch.demo import running

    logging.getLogger("fermwatch").addHandler(logging.NullHandler())  # the story itself is told
    logging.getLogger("asyncio").addHandler(logging.NullHandler())  # a broker that ends with the demo is no news
    scenario = _scenario(options)
    start = _start_of(context)
    story = Story(scenario, start, context.say, context.units)
    pace = running.Pace(TEXT_STEP, options.speed, start + timedelta(hours=scenario.length_h))
    audience = running.Audience(begins=story.begin, changed=story.changed, wrote=story.wrote)
    asyncio.run(_until_told(running.run(scenario, directory, start, pace, audience)))
    signal.signal(signal.SIGTERM, _leave)  # which the loop put back
    story.end(directory)
    return 0


async def _until_told(work: Coroutine[object, object, None]) -> None:
    """An exception raised by a signal is lost where it meets a finalizer: while a loop runs, the loop is told."""
    task, told = asyncio.ensure_future(work), asyncio.Event()

    def end() -> None:
        told.set()
        task.cancel()

    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, end)
    try:
        await task
    except asyncio.CancelledError:
        if told.is_set():
            raise _Ended(signal.SIGTERM) from None
        raise
