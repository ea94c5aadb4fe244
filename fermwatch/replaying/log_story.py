"""The story of a log for people: what changed, when, and why, a line or two for each."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from fermwatch.alarms.life import Transition
from fermwatch.brewing.attenuation import expected
from fermwatch.model import amounts
from fermwatch.model.batch import Batch
from fermwatch.saying.voice import Voice
from fermwatch.text import clean

FORECAST_MOVED_POINTS = 1.5
FORECAST_MOVED_H = 24.0
INDENT = " " * 16
NO_END_IN_SIGHT = {"stalled", "not-started", "terminal", "conditioning", "packaged"}


class LogStory:
    """Tells the events of one replay, in the reader's units. Forecasts are told only where they moved."""

    def __init__(self, batch: Batch, voice: Voice) -> None:
        self._batch, self._voice = batch, voice
        self._last: tuple[float, datetime] | None = None
        self._started = False
        self._phase_now = ""

    def tell(self, told: Mapping[str, Any]) -> Iterator[str]:
        """The lines for one event."""
        if not self._started:
            self._started = True
            low, high = expected(self._batch).ends_sg
            original, ends = amounts.gravity(self._batch.original_sg), amounts.gravity_range(low, high)
            pitched = f"pitched {self._batch.pitched_at:%Y-%m-%d %H:%M} UTC"
            yield f"{clean(self._batch.name)}: {self._voice.text(f'{original}, to end at {ends}')}; {pitched}"
        at = datetime.fromisoformat(told["at"])
        lines = getattr(self, f"_{told['event']}")(told)
        for number, line in enumerate(lines):
            yield f"{self._day(at) if number == 0 else '':<{len(INDENT)}}{self._voice.text(line, 400)}"

    def _day(self, at: datetime) -> str:
        """The day, counted from that of the pitch, and the time of day."""
        return f"day {(at.date() - self._batch.pitched_at.date()).days} {at:%H:%M}"

    def _phase(self, told: Mapping[str, Any]) -> Iterator[str]:
        self._phase_now = told["phase"]
        reason = f": {told['reason']}" if told["reason"] else ""
        yield f"phase {told['phase']}{reason}"
        yield "  " + "; ".join(told["evidence"][:2])

    def _forecast(self, told: Mapping[str, Any]) -> Iterator[str]:
        terminal, done = told["terminal_sg"], datetime.fromisoformat(told["done_at"])
        if self._phase_now in NO_END_IN_SIGHT or not self._moved(terminal, done):
            return
        self._last = (terminal, done)
        first, last = (datetime.fromisoformat(told[key]) for key in ("done_low", "done_high"))
        between = amounts.gravity_range(told["low_sg"], told["high_sg"])
        yield (
            f"forecast: ends at {amounts.gravity(terminal)} ({between}), within a point of it "
            f"on {self._day(done)} ({self._day(first)} to {self._day(last)})"
        )

    def _moved(self, terminal: float, done: datetime) -> bool:
        if self._last is None:
            return True
        moved_h = abs((done - self._last[1]) / timedelta(hours=1))
        return abs(terminal - self._last[0]) * 1000 >= FORECAST_MOVED_POINTS or moved_h >= FORECAST_MOVED_H

    def _verdict(self, told: Mapping[str, Any]) -> Iterator[str]:
        words = {"hold": "do not bottle yet: find out", "not-yet": "not yet", "confirm": "confirm"}
        yield f"verdict {words.get(told['verdict'], told['verdict'])}"
        yield f"  {told['sentence']}"
        yield from (f"  {reason}" for reason in told["reasons"][:4])

    def _alarm(self, told: Mapping[str, Any]) -> Iterator[str]:
        quiet = f" (quiet: {told['quiet_because']})" if told["quiet_because"] else ""
        grave = f", {told['severity']}" if told["state"] == Transition.ESCALATED else ""
        yield f"alarm {told['rule']} {told['state']}{grave}{quiet}: {told['statement']}"

    def _end(self, told: Mapping[str, Any]) -> Iterator[str]:
        yield f"end of the log, {told['rows']} rows; phase {told['phase']}, verdict {told['verdict']}"
        yield from (f"  {said}" for said in (told["sentence"], told["next_step"]) if said)
        yield from (f"  {reason}" for reason in told["reasons"][:4])
