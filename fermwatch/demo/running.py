"""The demo: an invented cellar watched the real way, through a pseudo-terminal, a broker where there is one, the real
drivers, the real store and the real watcher. All it writes lies in one directory, which goes when it ends.
"""

import asyncio
import contextlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import AsyncExitStack
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fermwatch.clock import SystemClock, from_ms
from fermwatch.config.load import Loaded, load
from fermwatch.contracts.inbox import Request
from fermwatch.desk import asking
from fermwatch.inbox.sending import put
from fermwatch.ingest.conversion import convert
from fermwatch.ingest.pipeline import Intake
from fermwatch.ingest.plug_ins import controllers, drivers
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement
from fermwatch.model.degree import CAUTION, Degree
from fermwatch.model.plan import PlanProgress, plan_of
from fermwatch.model.reading import RawReading, Reading
from fermwatch.requests.shapes import Acknowledging, ArmingAsked, Asked, Happened, Measuring
from fermwatch.rules.gravity import STALLED
from fermwatch.rules.temperature import HIGH
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.hold import Holdings
from fermwatch.watching.hooks import Hooks
from fermwatch.watching.watcher import Watcher
from fermwatch_sim.broker import Address, private_broker
from fermwatch_sim.cellar import Cellar, PackagedBeer, Passage, ProbeValue, Written
from fermwatch_sim.modbus import ModbusFace
from fermwatch_sim.pacing import passages
from fermwatch_sim.scenario import PlacedProbe, RegulatedPart, Scenario, WireKind
from fermwatch_sim.sensors import What
from fermwatch_sim.wires import AskedDevice, BrokerBoard, PtyBoard, Wire

SITE = "demo"
USER = "demo"
FRIDGE = "fridge"
BEFORE = datetime.min.replace(tzinfo=UTC)
PATIENCE_S = 5.0  # for a controller that is not looked at
HISTORY_STEP = timedelta(minutes=30)  # how often the history is decided upon


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast the demo runs. speed: simulated seconds per real second; None is as fast as commits go."""

    step: timedelta
    speed: float | None
    until: datetime


@dataclass(slots=True)
class Audience:
    """Who is told what: `begins` first, whether there is a broker and which batches there are; `ready` when the history
    is in the store; `changed` of alarms, `wrote` of what people did.
    """

    begins: Callable[[bool, tuple[Batch, ...]], None] = lambda _broker, _batches: None
    ready: Callable[[], None] = lambda: None
    changed: Callable[[datetime, list[AlarmChange]], None] = lambda _at, _changes: None
    wrote: Callable[[Written], None] = lambda _entry: None


class CellarClock:
    """The deciding instant is the cellar's; waiting is in real time."""

    def __init__(self, cellar: Cellar) -> None:
        self._cellar, self._real = cellar, SystemClock()

    def now(self) -> datetime:
        return self._cellar.now

    def monotonic_s(self) -> float:
        return self._real.monotonic_s()


@dataclass(slots=True)
class Progress:
    """The newest instant of each probe that was committed and decided upon."""

    slugs: dict[int, str] = field(default_factory=dict)
    newest: dict[str, datetime] = field(default_factory=dict)
    controlled_at: datetime = BEFORE
    turned: asyncio.Event = field(default_factory=asyncio.Event)

    def committed(self, intake: Intake) -> None:
        for reading in intake.readings:
            at = from_ms(reading.at_ms)
            slug = self.slugs[reading.series]
            self.newest[slug] = max(at, self.newest.get(slug, at))

    def controlled(self, at: datetime) -> None:
        self.controlled_at = at
        self.turned.set()

    async def until_controlled(self, now: datetime) -> None:
        """Until the fridge's controller was looked at as of `now`, for a while at most."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(PATIENCE_S):
                while self.controlled_at < now:
                    self.turned.clear()
                    await self.turned.wait()

    async def known(self) -> Mapping[str, datetime]:
        return self.newest


async def run(
    scenario: Scenario, directory: Path, start: datetime, pace: Pace, audience: Audience, *, seed: int = 7
) -> None:
    """Watch the scenario from its history on, until `pace.until` or until cancelled."""
    cellar = Cellar(scenario, start=start, seed=seed)
    history = cellar.history()
    progress = Progress()
    async with AsyncExitStack() as stack:
        board = stack.enter_context(PtyBoard())
        broker = await stack.enter_async_context(private_broker())
        wires: dict[WireKind, Wire] = {WireKind.SERIAL: board}
        if broker is not None:
            wires[WireKind.MQTT] = await stack.enter_async_context(
                BrokerBoard(broker.host, broker.port, scenario.probes)
            )
        controller_port = None
        if scenario.regulated is not None and pace.speed is not None:  # who runs as fast as it goes asks no device
            face = await stack.enter_async_context(ModbusFace(cellar.controller, lambda: cellar.now_s))
            wires[WireKind.MODBUS], controller_port = AskedDevice(), face.port
        audience.begins(broker is not None, (*cellar.batches, *(one.batch for one in cellar.packaged)))
        loaded = configuration(scenario, directory, board.port, broker, controller_port)
        ready = asyncio.Event()

        def opened(held: Holdings) -> None:
            progress.slugs = {one.series: one.probe.slug for one in held.writer.series()}
            relive(history, cellar.batches, cellar.packaged, held, audience)

        def now_ready() -> None:
            audience.ready()
            ready.set()

        hooks = Hooks(opened, now_ready, progress.committed, progress.controlled, audience.changed)
        watcher = Watcher(loaded, CellarClock(cellar), hooks)
        async with asyncio.TaskGroup() as room:
            watching = room.create_task(watcher.run(), name="watcher")
            await ready.wait()
            await _live(cellar, wires, progress, pace, audience, directory)
            watcher.stop()
            await watching


async def _live(
    cellar: Cellar,
    wires: Mapping[WireKind, Wire],
    progress: Progress,
    pace: Pace,
    audience: Audience,
    directory: Path,
) -> None:
    regulated = cellar.scenario.regulated if WireKind.MODBUS in wires else None
    for asked in begun(cellar, regulated):
        put(directory, _request(asked, cellar.now))
    going = passages(cellar, wires, progress.known, step=pace.step, speed=pace.speed, until=pace.until)
    async for passage in going:
        for entry in passage.entries:
            put(directory, request(entry, passage.now))
            audience.wrote(entry)
        if regulated is not None:
            await progress.until_controlled(passage.now)


def begun(cellar: Cellar, regulated: RegulatedPart | None) -> Iterator[Asked]:
    """What somebody asks at the start: the plan of the beer that the fridge follows, and that it may be set by it."""
    if regulated is None:
        return
    batch = next(one for one in cellar.batches if one.vessel == regulated.fermenter)
    progress = PlanProgress("", plan_of(regulated.steps, "demo"), 0, cellar.now)
    yield Happened(batch.id, Event(asking.new_id(cellar.now), cellar.now, EventKind.PLAN, progress.data()))
    yield ArmingAsked(FRIDGE, Degree.SET, CAUTION)


def relive(
    history: Passage, batches: tuple[Batch, ...], packaged: tuple[PackagedBeer, ...], held: Holdings, audience: Audience
) -> None:
    """Put the days before the demo's start into the store, in their order, decided upon as they went."""
    before = [entry for beer in packaged for entry in beer.entries]  # an old story, which is told to nobody
    said = _by_step(replace(history, entries=tuple(sorted((*history.entries, *before), key=_written_at))))
    pitched = sorted((*batches, *(beer.batch for beer in packaged)), key=lambda batch: batch.pitched_at)
    for end, samples, entries in said:
        while pitched and pitched[0].pitched_at <= end:
            held.inbox.put(_request(pitched.pop(0), end))
        for entry in entries:
            held.inbox.put(request(entry, end))
            if entry not in before:
                audience.wrote(entry)
        held.book.attend(end)
        held.book.take(Intake(tuple(_converted(samples, held)), ()))
        audience.changed(end, held.book.decide(end))
    for batch in pitched:
        if batch.pitched_at <= history.now:  # it begins with the demo: nothing was heard of it before
            held.inbox.put(_request(batch, history.now))
    see_old_alarms(held, history.now)


def _written_at(entry: Written) -> datetime:
    return entry.written.at


def see_old_alarms(held: Holdings, now: datetime) -> None:
    """Somebody was there these days, and saw what is not news any more."""
    news = {(HIGH, True), (STALLED, True)}
    for alarm in held.writer.alarms():
        if (alarm.needs_attention or alarm.lingers(now)) and (alarm.rule, alarm.stands) not in news:
            held.inbox.put(_request(Acknowledging(alarm.rule, alarm.subject), now))
    held.book.attend(now)


def _converted(samples: list[ProbeValue], held: Holdings) -> Iterator[Reading]:
    sources = {one.probe.slug: (one.probe.source, one.probe.channel) for one in held.bindings.values()}
    for sample in samples:
        source, channel = sources[sample.probe]
        raw = RawReading(channel, sample.value, sample.at, unit=sample.unit, measured_at=sample.at)
        reading = convert(source, raw, held.bindings).reading
        if reading is not None:
            yield reading


def _by_step(history: Passage) -> Iterator[tuple[datetime, list[ProbeValue], list[Written]]]:
    samples, entries = list(history.samples), list(history.entries)
    end = min((one.at for one in samples), default=history.now)  # a story may begin with the demo
    while samples or entries:
        end += HISTORY_STEP
        heard = [one for one in samples if one.at <= end]
        wrote = [one for one in entries if one.written.at <= end]
        yield end, heard, wrote
        samples, entries = samples[len(heard) :], entries[len(wrote) :]


def request(entry: Written, now: datetime) -> Request:
    """What somebody in the cellar wrote down, as they would with a text command."""
    written = entry.written
    if isinstance(written, GravityMeasurement):
        return _request(Measuring(entry.batch, written), now)
    return _request(Happened(entry.batch, written), now)


def _request(asked: Asked, now: datetime) -> Request:
    return asking.request(asked, site=SITE, user=USER, now=now)


def configuration(
    scenario: Scenario, directory: Path, port: str, broker: Address | None, controller_port: int | None
) -> Loaded:
    """The configuration that a brewer with this cellar would write, read by the real loader."""
    file = directory / "fermwatch.toml"
    parts = [f'[site]\nname = "{SITE}"\ntimezone = "UTC"\n\n[store]\ndirectory = "{directory}"\n']
    parts.append(
        f'[[source]]\nname = "board"\ndriver = "serial-line"\nport = "{port}"\nformat = "json"\n'
        'time_field = "at"\nsequence_field = "seq"\nsettle_s = 0\n'
    )
    if broker is not None:
        parts.append(
            f'[[source]]\nname = "broker"\ndriver = "mqtt"\nhost = "{broker.host}"\nport = {broker.port}\n'
            'topic = "cellar/{fermenter}/{what}"\npayload = "json"\n'
            'time_pointer = "/at"\nsequence_pointer = "/seq"\n'
        )
    if scenario.regulated is not None and controller_port is not None:
        parts.append(
            f'[[source]]\nname = "{FRIDGE}"\ndriver = "modbus-tcp"\nhost = "127.0.0.1"\nport = {controller_port}\n'
            'map = "worked-example"\nevery_s = 0.1\n\n'
            f'[[controller]]\nsource = "{FRIDGE}"\nvessel = "{scenario.regulated.fermenter}"\ndegree = "set"\n'
            "low_c = 1.0\nhigh_c = 24.0\n"
        )
    parts += [
        f'[[vessel]]\nid = "{one.slug}"\nname = "{one.name}"\nvolume_l = {one.volume_l}\n' for one in scenario.vessels
    ]
    there = {WireKind.SERIAL, *([WireKind.MQTT] if broker else []), *([WireKind.MODBUS] if controller_port else [])}
    parts += [_probe(one, one.wire if one.wire in there else WireKind.SERIAL) for one in scenario.probes]
    file.write_text("\n".join(parts), encoding="utf-8")
    return load(file, drivers(), {}, controllers())


CHANNELS = {What.BEER: "measured", What.SET_POINT: "set-point", What.COMPRESSOR: "cool"}  # of the controller


def _probe(probe: PlacedProbe, wire: WireKind) -> str:
    source, channel = {
        WireKind.SERIAL: ("board", probe.slug),
        WireKind.MQTT: ("broker", f"{probe.vessel}/{probe.what}#/value"),
        WireKind.MODBUS: (FRIDGE, CHANNELS.get(probe.what, "")),
    }[wire]
    return (
        f'[[probe]]\nid = "{probe.slug}"\nvessel = "{probe.vessel}"\nquantity = "{probe.quantity}"\n'
        f'source = "{source}"\nchannel = "{channel}"\nunit = "{probe.unit}"\nevery_s = {probe.every_s}\n'
        f'placement = "{probe.placement}"\n'
    )
