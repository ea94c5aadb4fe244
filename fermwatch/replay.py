"""Replays a recorded log through the deciding code, in log time: what would have been said, and when.

Causal: what is said at an instant rests on the rows that had arrived by then, and on none below them.
"""

import json
import sys
from bisect import insort
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

from fermwatch.alarms.life import Transition
from fermwatch.clock import to_ms
from fermwatch.deciding import Change, Decider
from fermwatch.errors import InputError
from fermwatch.judgement.judge import Judge
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch, Event, GravityMeasurement
from fermwatch.model.believable import Level, Said, believable, screen, weigh, why_doubted
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Verdict
from fermwatch.model.packaging import packaging_of
from fermwatch.model.quantity import CANONICAL_UNIT, Quantity
from fermwatch.model.reading import Flag
from fermwatch.replay_input import GRAVITY, Row, read_batch, read_log
from fermwatch.replay_story import Story
from fermwatch.rules.catalogue import IN_PACKAGE
from fermwatch.rules.situation import WINDOW, ProbeState, Sample, Situation

Told = dict[str, Any]

HAND = "hydrometer"
TICK = timedelta(minutes=15)
LONGEST = timedelta(days=400)
NOT_BEER = ("air", "ambient", "room", "fridge", "chamber")
SILENT_INTERVALS = 6
SILENT_LEAST_S = 3600.0


class HeardProbe:
    """When a probe spoke, and whether its last word is to be believed."""

    def __init__(self, slug: str, quantity: Quantity) -> None:
        self._slug, self._quantity, self._unit = slug, quantity, CANONICAL_UNIT[quantity]
        self._level: Level | None = None
        self._intervals: deque[float] = deque(maxlen=25)
        self._last_at: datetime | None = None
        self._flagged = ""

    def hear(self, row: Row, volume_l: float) -> bool:
        """Whether it can be believed, weighed as a watcher does against what the probe said before."""
        flags = screen(self._quantity, row.value, said=row.value, unit=self._unit)
        flags, self._level = weigh(self._level, self._quantity, volume_l, Said(to_ms(row.at), row.value), flags)
        if self._last_at is not None and row.at > self._last_at:
            self._intervals.append((row.at - self._last_at).total_seconds())
        if self._last_at is None or row.at >= self._last_at:
            self._last_at = row.at
            lasting = flags & ~Flag.JUMP
            self._flagged = why_doubted(lasting, self._quantity, row.value, row.value, self._unit)
        return believable(flags)

    def state(self) -> ProbeState:
        usual_s = median(self._intervals) if self._intervals else 0.0
        return ProbeState(
            self._slug,
            self._quantity,
            max(SILENT_LEAST_S, SILENT_INTERVALS * usual_s),
            self._last_at,
            self._flagged,
        )


class Replay:
    """Feeds one batch's rows to the judge and the rules, and tells what changes."""

    def __init__(self, batch: Batch, events: Iterable[Event]) -> None:
        self._events = tuple(events)
        done = packaging_of(self._events)
        self._batch = replace(batch, packaged_at=None if done is None else done.at)
        self._judge, self._decider = Judge(self._batch), Decider()
        self._beer: list[Sample] = []
        self._probes: dict[str, HeardProbe] = {}
        self._gravity_probe: str | None = None
        self._next_tick = batch.pitched_at + TICK
        self._latest: datetime = batch.pitched_at
        self._rows = 0
        self._left = False
        self._judgement = Judgement(batch.pitched_at)
        for event in self._events:
            self._judge.add_event(event)

    def take(self, row: Row) -> Iterator[Told]:
        """What was to be said before this row, and then the row."""
        if row.at - self._batch.pitched_at > LONGEST:
            raise InputError(
                f"A row of {row.at:%Y-%m-%d} is over {LONGEST.days} days after the pitch.",
                hint="Mend its time, or pitched_at.",
            )
        while self._next_tick < row.at:
            yield from self._tick(self._next_tick)
            self._next_tick += TICK
        self._latest = max(self._latest, row.at)
        self._rows += 1
        self._absorb(row)

    def end(self) -> Told:
        judged = self._judgement
        return {
            "event": "end",
            "at": _text(self._latest),
            "rows": self._rows,
            "phase": judged.phase.phase if judged.phase else None,
            "verdict": judged.verdict.kind if judged.verdict else None,
            "reasons": list(judged.verdict.reasons) if judged.verdict else [],
            "sentence": judged.verdict.sentence if judged.verdict else "",
            "next_step": judged.verdict.next_step if judged.verdict else "",
        }

    def _absorb(self, row: Row) -> None:
        if row.probe == HAND:
            identity = f"{row.at.isoformat()} {row.value}"
            self._judge.add_measurement(GravityMeasurement(identity, row.at, row.value))
        elif row.quantity == GRAVITY:
            self._gravity_probe = self._gravity_probe or row.probe
            believed = self._heard(row, Quantity.GRAVITY)
            if believed and row.probe == self._gravity_probe and self._batch.was_in_fermenter(row.at):
                self._judge.add_gravity(row.at, row.value)
        else:
            self._absorb_temperature(row)

    def _absorb_temperature(self, row: Row) -> None:
        beer = not any(word in row.probe.lower() for word in NOT_BEER)
        believed = self._heard(row, Quantity.BEER_TEMPERATURE if beer else Quantity.AIR_TEMPERATURE)
        if beer and believed and self._batch.was_in_fermenter(row.at):
            self._judge.add_temperature(row.at, row.value)
            sample = Sample(row.at, row.value)
            if sample not in self._beer:
                insort(self._beer, sample, key=lambda known: known.at)

    def _heard(self, row: Row, quantity: Quantity) -> bool:
        probe = self._probes.setdefault(row.probe, HeardProbe(row.probe, quantity))
        return probe.hear(row, self._batch.volume_l)

    def _tick(self, now: datetime) -> Iterator[Told]:
        packaged_at = self._batch.packaged_at
        left = packaged_at is not None and now >= packaged_at
        judged = self._judge.judge_at_once(packaged_at) if left and packaged_at else self._judge.judge(now)
        before, self._judgement = self._judgement, judged
        yield from _changed(before, self._judgement, now)
        while self._beer and self._beer[0].at < now - WINDOW:
            self._beer.pop(0)
        events = tuple(event for event in self._events if event.at <= now)
        situation = Situation(
            now=now,
            vessel=self._batch.vessel,
            batch=None if left else self._batch,
            judgement=None if left else self._judgement,
            events=() if left else events,
            beer=tuple(sample for sample in self._beer if sample.at <= now),
            probes=tuple(probe.state() for probe in self._probes.values()),
        )
        for change in self._decider.decide(situation):
            yield from _alarm(change)
        if left:
            yield from self._in_package(events, now)

    def _in_package(self, events: tuple[Event, ...], now: datetime) -> Iterator[Told]:
        """What its fermenter said of it is over, and what concerns its package begins."""
        changes = [] if self._left else self._decider.retire(f"batch:{self._batch.id}", now)
        self._left = True
        changes += self._decider.decide(Situation(now, self._batch.vessel, self._batch, events=events), by=IN_PACKAGE)
        for change in changes:
            yield from _alarm(change)


def replay(rows: Iterable[Row], batch: Batch, events: Iterable[Event] = ()) -> Iterator[Told]:
    """Yield what is said, one change after the other in log time; `end` is the last."""
    course = Replay(batch, events)
    for row in rows:
        yield from course.take(row)
    yield course.end()


def _changed(before: Judgement, after: Judgement, now: datetime) -> Iterator[Told]:
    if after.phase is not None and (before.phase is None or before.phase.phase is not after.phase.phase):
        yield _phase(after.phase, now)
    known = after.forecast is not None and after.forecast.done_at is not None  # else no end is in sight
    if known and after.forecast is not None and (before.forecast is None or before.forecast.at != after.forecast.at):
        yield _forecast(after.forecast, now)
    if after.verdict is not None and (before.verdict is None or before.verdict.kind is not after.verdict.kind):
        yield _verdict(after.verdict, now)


def _phase(said: PhaseStatement, now: datetime) -> Told:
    evidence = [item.statement for item in said.evidence]
    return {"event": "phase", "at": _text(now), "phase": said.phase, "reason": said.reason, "evidence": evidence}


def _forecast(said: Forecast, now: datetime) -> Told:
    return {
        "event": "forecast",
        "at": _text(now),
        "terminal_sg": round(said.terminal_sg, 5),
        "low_sg": round(said.low_sg, 5),
        "high_sg": round(said.high_sg, 5),
        "done_at": _text(said.done_at),
        "done_low": _text(said.done_low),
        "done_high": _text(said.done_high),
        "cannot_know": list(said.cannot_know),
    }


def _verdict(said: Verdict, now: datetime) -> Told:
    return {
        "event": "verdict",
        "at": _text(now),
        "verdict": said.kind,
        "reasons": list(said.reasons),
        "sentence": said.sentence,
        "next_step": said.next_step,
        "next_at": _text(said.next_at),
        "next_reading_at": _text(said.next_reading_at),
        "next_reading_why": said.next_reading_why,
    }


def _alarm(change: Change) -> Iterator[Told]:
    """Raised and cleared are told; that evidence went stale, or worse, belongs to the alarm's own journal."""
    for transition in change.transitions:
        if transition in {Transition.RAISED, Transition.CLEARED}:
            alarm = change.alarm
            yield {
                "event": "alarm",
                "at": _text(change.at),
                "rule": alarm.rule,
                "state": str(transition),
                "subject": alarm.subject,
                "severity": alarm.severity,
                "statement": alarm.statement,
                "remedy": alarm.remedy,
                "quiet_because": alarm.suppressed_by,
            }


def _text(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def run(log: Path, batch: Path, as_json: bool, write: Callable[[str], object]) -> int:
    """Replay a log and write what is said, as JSON Lines or as a story. Returns the exit status.

    Raises:
        InputError: for the log. ConfigError: for the batch. Each names the file, the place and the remedy.
    """
    known, events = read_batch(batch)
    story = Story(known)
    for told in replay(read_log(log), known, events):
        for line in [json.dumps(told, ensure_ascii=False)] if as_json else story.tell(told):
            write(f"{plain(line)}\n")
    return 0


if __name__ == "__main__":
    from fermwatch.errors import FermwatchError

    paths = [argument for argument in sys.argv[1:] if not argument.startswith("--")]
    try:
        sys.exit(run(Path(paths[0]), Path(paths[1]), "--json" in sys.argv, sys.stdout.write))
    except FermwatchError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_status)
