"""What is at the other end of the wires, asked by the drivers themselves; nothing is written, stored or acknowledged.

A serial port is opened only where somebody waits for it: opening restarts many a board, and a controller with it. A
broker is asked under a name of our own for which it keeps nothing, so that no message for the watcher is lost.
"""

import asyncio
import os
import uuid
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from fermwatch.access import user_name
from fermwatch.clock import Clock
from fermwatch.commands.checking.checked import CheckLine, look, mend, ok
from fermwatch.config.load import Loaded, LoadedSource
from fermwatch.contracts.driver import Delivery
from fermwatch.contracts.wire import Wires
from fermwatch.errors import FermwatchError
from fermwatch.text import clean

QUICK_S = 5.0
_OWN_SESSION = {"client_id", "session_expiry_s"}  # options of a source that a broker remembers


@dataclass
class _Ear:
    """A listener that keeps count. heard: by channel; newest: as it was said."""

    connection: str = ""
    heard: Counter[str] = field(default_factory=Counter)
    newest: dict[str, str] = field(default_factory=dict)
    rejected: int = 0
    rejection: str = ""
    opened: asyncio.Event = field(default_factory=asyncio.Event)
    delivered: asyncio.Event = field(default_factory=asyncio.Event)

    def connected(self, detail: str) -> None:
        self.connection = clean(detail, 120)
        self.opened.set()

    async def deliver(self, delivery: Delivery) -> None:
        for reading in delivery.readings:
            self.heard[reading.channel] += 1
            self.newest[reading.channel] = f"{reading.value:.6g}{f' {reading.unit}' if reading.unit else ''}"
        for rejection in delivery.rejections:
            self.rejected += rejection.count
            self.rejection = f"{rejection.reason}: {rejection.sample}" if rejection.sample else rejection.reason
        self.delivered.set()


async def tried(loaded: Loaded, clock: Clock, listen_s: float | None) -> list[CheckLine]:
    """Every source at once, for `listen_s`, or until each answers."""
    shared = Wires()
    looked = [_at_once(source, loaded, shared, clock, listen_s) for source in loaded.sources]
    return [one for found in await asyncio.gather(*looked) for one in found]


async def _at_once(
    source: LoadedSource, loaded: Loaded, shared: Wires, clock: Clock, listen_s: float | None
) -> Sequence[CheckLine]:
    port = getattr(source.options, "port", None)
    if isinstance(port, str):
        amiss = _port(source.name, port)
        if amiss is not None or listen_s is None:
            return [amiss or look("source", f"{source.name}: {port} is there, and was not opened.", _HOW_TO_LISTEN)]
    ear, error = _Ear(), None
    try:
        error = await _run(source, ear, shared, clock, listen_s)
    except FermwatchError as told:
        error = told
    return list(_told(source, loaded, ear, error, listen_s))


_HOW_TO_LISTEN = "Hear what comes: fermwatch check --listen 30s"


def _port(name: str, port: str) -> CheckLine | None:
    """What can be seen of a port without opening it; None where nothing is amiss."""
    device = Path(port)
    if not device.exists():
        return look("source", f"{name}: {port} is not there now: watched as soon as it is plugged in.")
    if not os.access(port, os.R_OK | os.W_OK):
        user = user_name(os.geteuid())
        group = _group(device)
        text = f"{name}: {user} may not open {port}."
        return mend("source", text, f"sudo usermod -aG {group} {user}, then log in anew.")
    return None


def _group(device: Path) -> str:
    try:
        return device.group()
    except (KeyError, OSError):  # a group without a name
        return "dialout"


async def _run(
    source: LoadedSource, ear: _Ear, shared: Wires, clock: Clock, listen_s: float | None
) -> FermwatchError | None:
    """Why the driver ended, if it did."""
    source = _apart(source)
    wires = Wires() if source.options.model_fields_set & _OWN_SESSION else shared
    driver = asyncio.create_task(source.make(clock, wires).run(ear))
    awaited = ear.opened if hasattr(source.options, "client_id") else ear.delivered
    waiting = asyncio.create_task(awaited.wait() if listen_s is None else asyncio.sleep(listen_s))
    try:
        await asyncio.wait({driver, waiting}, timeout=listen_s or QUICK_S, return_when=asyncio.FIRST_COMPLETED)
    finally:
        ended = driver.done()
        driver.cancel()
        waiting.cancel()
        outcome, _ = await asyncio.gather(driver, waiting, return_exceptions=True)
    if ended and isinstance(outcome, FermwatchError):
        return outcome
    if ended and isinstance(outcome, Exception):  # a stranger's mistake
        return FermwatchError(f"its driver failed ({clean(f'{type(outcome).__name__}: {outcome}', 200)}).")
    return None


def _apart(source: LoadedSource) -> LoadedSource:
    """The source under a name that nobody keeps anything for."""
    if not type(source.options).model_fields.keys() >= _OWN_SESSION:
        return source
    own = {"client_id": f"fermwatch-check-{uuid.uuid4().hex[:8]}", "session_expiry_s": 0}
    return replace(source, options=source.options.model_copy(update=own))


def _told(
    source: LoadedSource, loaded: Loaded, ear: _Ear, error: FermwatchError | None, listen_s: float | None
) -> Iterator[CheckLine]:
    if error is not None:
        yield mend("source", f"{source.name}: {error.message}", error.hint)
    elif not ear.connection and not ear.heard:
        yield mend("source", f"{source.name} does not answer within {listen_s or QUICK_S:g} s.", "Is its host right?")
    else:
        yield ok("source", f"{source.name} answers{f': {ear.connection}' if ear.connection else ''}.")
    if ear.rejected:
        text = f"{source.name}: {ear.rejected} times something that is no reading, as {clean(ear.rejection, 120)}"
        yield look("source", text, "Do format and channels fit? fermwatch listen shows what comes.")
    if listen_s is None:
        return
    unbound = sorted(set(ear.heard) - set(source.channels))
    for probe in loaded.config.probe:
        if probe.source != source.name:
            continue
        count = ear.heard[probe.channel]
        if count:
            newest = ear.newest[probe.channel]
            yield ok("probe", f"{probe.id} was heard {count} times in {listen_s:g} s, {newest} last.")
        elif probe.every_s > listen_s:
            yield look("probe", f"{probe.id} was not heard, and speaks every {probe.every_s:g} s only.")
        else:
            names = f"It says {', '.join(clean(name, 40) for name in unbound[:8])}." if unbound else ""
            yield mend(
                "probe", f"{probe.id} was not heard in {listen_s:g} s.", f"Is its channel right? {names}".strip()
            )
