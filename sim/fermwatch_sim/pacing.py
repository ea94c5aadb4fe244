"""How simulated time passes: a minute is over only when everything said in it is committed by whoever listens.

Any speed is possible, and none makes a false silence. Waiting is in real time, by the clock handed in.
"""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from datetime import datetime, timedelta

from fermwatch.clock import Clock, SystemClock
from fermwatch_sim.cellar import STEP, Cellar, Passage, ProbeValue
from fermwatch_sim.scenario import WireKind
from fermwatch_sim.wires import Wire

# The device instant of the newest committed reading, by probe.
Committed = Callable[[], Awaitable[Mapping[str, datetime]]]

_POLL_S = 0.005


async def passages(
    cellar: Cellar,
    wires: Mapping[WireKind, Wire],
    committed: Committed,
    *,
    step: timedelta = STEP,
    speed: float | None = None,
    until: datetime | None = None,
    patience_s: float = 5.0,
    clock: Clock | None = None,
) -> AsyncIterator[Passage]:
    """Send, wait until committed, and give what has passed, step by step until `until` (or the scenario's end).

    wires: a probe whose wire is missing goes by the serial one. speed: simulated seconds per real second at most; None
    is as fast as commits go. patience_s: real seconds after which what was sent counts as lost on the line, as it is
    when a reader flushes its port on opening; the cellar goes on all the same, as a real one would.
    """
    clock = clock or SystemClock()
    by_slug = {probe.slug: wires.get(probe.wire) or wires[WireKind.SERIAL] for probe in cellar.scenario.probes}
    end = until or cellar.ends
    began_s, began = clock.monotonic_s(), cellar.now
    while cellar.now + STEP <= end:
        passage = cellar.advance(min(cellar.now + step, end))
        await _send(passage.samples, by_slug)
        await _wait(passage.samples, committed, clock, patience_s)
        yield passage
        if speed is not None:
            due_s = began_s + (passage.now - began).total_seconds() / speed
            await asyncio.sleep(max(due_s - clock.monotonic_s(), 0.0))


async def _send(samples: Sequence[ProbeValue], by_slug: Mapping[str, Wire]) -> None:
    # A wire is sent all that is its own at once; the order between two wires is nobody's business.
    shares: dict[int, tuple[Wire, list[ProbeValue]]] = {}
    for sample in samples:
        wire = by_slug[sample.probe]
        shares.setdefault(id(wire), (wire, []))[1].append(sample)
    for wire, share in shares.values():
        await wire.send(share)


async def _wait(samples: Sequence[ProbeValue], committed: Committed, clock: Clock, patience_s: float) -> None:
    newest = {sample.probe: sample.at for sample in samples}
    deadline_s = clock.monotonic_s() + patience_s
    while newest and clock.monotonic_s() < deadline_s:
        known = await committed()
        newest = {probe: at for probe, at in newest.items() if probe not in known or known[probe] < at}
        if newest:
            await asyncio.sleep(_POLL_S)
