"""Replays a recorded log through the deciding code, in log time: what would have been said, and when.

Causal: what is said at an instant rests on the rows that had arrived by then, and on none below them.
"""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from fermwatch.alarms.life import TOLD
from fermwatch.errors import InputError
from fermwatch.judgement.judge import Judge
from fermwatch.model.amounts import plain
from fermwatch.model.batch import Batch, Event
from fermwatch.model.judgement import Forecast, Judgement, PhaseStatement, Verdict
from fermwatch.model.packaging import packaging_of
from fermwatch.model.subject import About
from fermwatch.replaying.input import Row, read_batch, read_log
from fermwatch.replaying.log_store import LogStore
from fermwatch.replaying.log_story import LogStory
from fermwatch.rules.catalogue import IN_PACKAGE
from fermwatch.saying.voice import Voice
from fermwatch.watching.boundary import Boundary
from fermwatch.watching.deciding import AlarmChange, Decider
from fermwatch.watching.judges import Judges
from fermwatch.watching.judging import AtOnce, Bench
from fermwatch.watching.memory import Memory
from fermwatch.watching.weighing import Weighing

ToldEvent = dict[str, Any]

HAND = "hydrometer"
TICK = timedelta(minutes=15)
LONGEST = timedelta(days=400)


class Replay:
    """Feeds one batch's rows to what a watcher judges and decides with, and tells what changes."""

    def __init__(self, batch: Batch, events: Iterable[Event]) -> None:
        self._events = tuple(events)
        done = packaging_of(self._events)
        self._batch = replace(batch, packaged_at=None if done is None else done.at)
        self._log = LogStore(self._batch, self._events)
        self._weighing, self._memory = Weighing(), Memory(tell=_leave)
        self._judges = Judges(self._log, Boundary(), Bench(ask=self._judged_at), AtOnce())
        self._judges.follow()
        self._decider = Decider()
        self._next_tick = batch.pitched_at + TICK
        self._latest: datetime = batch.pitched_at
        self._rows = 0
        self._left = False
        self._judgement = Judgement(batch.pitched_at)

    def take(self, row: Row) -> Iterator[ToldEvent]:
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

    def end(self) -> ToldEvent:
        judged = self._judgement
        return {
            "event": "end",
            "at": _text(self._latest),
            "rows": self._rows,
            "phase": judged.phase.phase if judged.phase else None,
            "verdict": judged.verdict.kind if judged.verdict else None,
            "reasons": list(judged.verdict.reasons) if judged.verdict else [],
            "sentence": judged.verdict.sentence if judged.verdict else "",
            "next_step": judged.verdict.next_steps if judged.verdict else "",
        }

    def _absorb(self, row: Row) -> None:
        if row.probe == HAND:
            self._log.take_measurement(row)
            self._judges.follow(self._batch.id)
            return
        known = self._log.series()
        reading = self._log.take(row)
        if self._log.series() != known:
            self._weighing.know(self._log)
            self._memory.know_the_probes(self._log)
            if len(self._log.series()) != len(known):
                self._judges.know_the_probes()
        if reading is not None:
            weighed, levels = self._weighing.weighed([reading])
            self._weighing.believe(levels)
            self._log.append(weighed)
            for one in weighed:
                self._memory.remember(one)
                self._judges.hear(one)

    def _judged_at(self, judge: Judge, until: datetime) -> Judgement:
        """What is told of a log moves with whole bins, and ends with what is said when it is packaged."""
        return judge.judge_at_once(until) if until == self._batch.packaged_at else judge.judge(until)

    def _judge(self, now: datetime) -> Judgement | None:
        for _ in self._judges.making_ready(now):
            pass
        self._judges.tell(now)
        (following,) = self._judges.all
        self._judges.take_answer(following, now)
        return following.judgement

    def _tick(self, now: datetime) -> Iterator[ToldEvent]:
        left = self._batch.packaged_at is not None and now >= self._batch.packaged_at
        before, self._judgement = self._judgement, self._judge(now) or self._judgement
        yield from _changed(before, self._judgement, now)
        events = tuple(event for event in self._events if event.at <= now)
        situation = self._memory.situation(
            self._batch.vessel,
            now,
            batch=None if left else self._batch,
            judgement=None if left else self._judgement,
            events=() if left else events,
        )
        for change in self._decider.decide(situation):
            yield from _alarm(change)
        if left:
            yield from self._in_package(events, now)

    def _in_package(self, events: tuple[Event, ...], now: datetime) -> Iterator[ToldEvent]:
        """What its fermenter said of it is over, and what concerns its package begins."""
        changes = [] if self._left else self._decider.retire(About.BATCH.of(self._batch.id), now)
        self._left = True
        changes += self._decider.decide(self._memory.in_package(self._batch, now, events, ()), by=IN_PACKAGE)
        for change in changes:
            yield from _alarm(change)


def _leave(_remark: str) -> None:
    """A replay tells of probes by their alarms."""


def replay(rows: Iterable[Row], batch: Batch, events: Iterable[Event] = ()) -> Iterator[ToldEvent]:
    """Yield what is said, one change after the other in log time; `end` is the last."""
    course = Replay(batch, events)
    for row in rows:
        yield from course.take(row)
    yield course.end()


def _changed(before: Judgement, after: Judgement, now: datetime) -> Iterator[ToldEvent]:
    if after.phase is not None and (before.phase is None or before.phase.phase is not after.phase.phase):
        yield _phase(after.phase, now)
    known = after.forecast is not None and after.forecast.done_at is not None  # else no end is in sight
    if known and after.forecast is not None and (before.forecast is None or before.forecast.at != after.forecast.at):
        yield _forecast(after.forecast, now)
    if after.verdict is not None and (before.verdict is None or before.verdict.kind is not after.verdict.kind):
        yield _verdict(after.verdict, now)


def _phase(said: PhaseStatement, now: datetime) -> ToldEvent:
    evidence = [item.statement for item in said.evidence]
    return {"event": "phase", "at": _text(now), "phase": said.phase, "reason": said.reason, "evidence": evidence}


def _forecast(said: Forecast, now: datetime) -> ToldEvent:
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


def _verdict(said: Verdict, now: datetime) -> ToldEvent:
    return {
        "event": "verdict",
        "at": _text(now),
        "verdict": said.kind,
        "reasons": list(said.reasons),
        "sentence": said.sentence,
        "next_step": said.next_steps,
        "next_at": _text(said.next_at),
        "next_reading_at": _text(said.next_reading_at),
        "next_reading_why": said.next_reading_why,
    }


def _alarm(change: AlarmChange) -> Iterator[ToldEvent]:
    for transition in change.transitions:
        if transition in TOLD:
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


def run(log: Path, batch: Path, as_json: bool, write: Callable[[str], object], voice: Voice | None = None) -> int:
    """Replay a log and write what is said, as JSON Lines in canonical units, or as a story in the reader's. Returns the
    exit status.

    Raises:
        InputError: for the log. ConfigError: for the batch. Each names the file, the place and the remedy.
    """
    known, events = read_batch(batch)
    story = LogStory(known, voice or Voice())
    for told in replay(read_log(log), known, events):
        for line in [plain(json.dumps(told, ensure_ascii=False))] if as_json else story.tell(told):
            write(f"{line}\n")
    return 0


if __name__ == "__main__":
    from fermwatch.errors import FermwatchError

    paths = [argument for argument in sys.argv[1:] if not argument.startswith("--")]
    try:
        sys.exit(run(Path(paths[0]), Path(paths[1]), "--json" in sys.argv, sys.stdout.write))
    except FermwatchError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(error.exit_status)
