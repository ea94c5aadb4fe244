"""Which stretch of a ferment is looked at, and where its cursor stands. From what is known of the lane, and now."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.clock import EPOCH
from fermwatch.contracts.feed import Lane
from fermwatch.model.window import QUARTER, Window

HOUR = timedelta(hours=1)
SPANS = tuple(hours * HOUR for hours in (6, 12, 24, 48, 96, 168, 336, 672))
COLUMNS = 360  # more than any terminal has dots for: what is asked for does not hang on the terminal's size
STEPS = 72  # of the cursor, across a window
EMPTY_SHOWS = timedelta(days=7)  # of a fermenter without a beer
SHORTEST_WHOLE = timedelta(hours=24)
LONGEST_AHEAD = timedelta(days=3)  # of what is to come, while the beer is younger than that
AHEAD = 1 / 12  # of a window that follows the clock, kept free for what is to come


def whole(lane: Lane, now: datetime) -> Window:
    """From the pitch to the forecast's end, which takes no more room than what has been."""
    if lane.batch is None:
        return Window(_down(now, HOUR) - EMPTY_SHOWS, _down(now, HOUR) + HOUR, COLUMNS)
    from fermwatch.saying.fan import fan_of  # not before a fermenter is opened: the first frame does not wait for it

    start = min(_down(lane.batch.pitched_at, QUARTER), now - QUARTER)
    fan = fan_of(lane.judgement)
    until = min(fan.end, now + max(now - start, LONGEST_AHEAD)) if fan is not None else now
    length = max(until, now) + (now - start) / 24 - start
    grain = 6 * HOUR if length > 4 * SHORTEST_WHOLE else HOUR
    return Window(start, max(_down(start + length, grain) + grain, start + SHORTEST_WHOLE), COLUMNS)


@dataclass(frozen=True, slots=True)
class Stretch:
    """span: of the window; None for the whole ferment. start: its left edge; None where it follows the clock.

    at: where the cursor stands; None where it is at now.
    """

    span: timedelta | None = None
    start: datetime | None = None
    at: datetime | None = None

    def window(self, lane: Lane, now: datetime) -> Window:
        longest = whole(lane, now)
        if self.span is None or self.span >= longest.length:
            return longest
        grain = max(self.span / 48, QUARTER)
        following = _down(now + self.span * AHEAD, grain) + grain - self.span
        start = following if self.start is None else _down(self.start, grain)
        start = max(min(start, longest.end - self.span), longest.start)
        return Window(start, start + self.span, COLUMNS)

    def zoomed(self, by: int, lane: Lane, now: datetime) -> "Stretch":
        """So many steps closer, about the cursor; 0 for the whole ferment."""
        longest = whole(lane, now).length
        spans: list[timedelta | None] = [None, *(one for one in reversed(SPANS) if one < longest)]
        place = spans.index(self.span) if self.span in spans else 0
        span = spans[min(max(place + by, 0), len(spans) - 1)] if by else None
        return replace(self, span=span, start=None)._showing(lane, now)

    def moved(self, steps: int, lane: Lane, now: datetime) -> "Stretch":
        """The cursor along the time axis; the window goes with it."""
        window = self.window(lane, now)
        return self.put(_nearest((self.at or now) + steps * window.length / STEPS, now, window), lane, now)

    def put(self, at: datetime, lane: Lane, now: datetime) -> "Stretch":
        """The cursor at an instant of the ferment; at now it follows the clock."""
        longest = whole(lane, now)
        first = longest.start if lane.batch is None else min(lane.batch.pitched_at, now)
        at = min(max(at, first), longest.end - longest.span)
        return replace(self, at=None if at == now else at)._showing(lane, now)

    def _showing(self, lane: Lane, now: datetime) -> "Stretch":
        """The same with its cursor in the window, which moves no further than it must be and then stays in view."""
        window, at = self.window(lane, now), self.at
        if at is None:
            return replace(self, start=None)
        if self.span is None or window.start <= at < window.end:
            return self
        return replace(self, start=at - self.span / 2)


def _nearest(at: datetime, now: datetime, window: Window) -> datetime:
    """Now, where a step comes as near as half a step to it: so that it can be come back to."""
    return now if abs(at - now) < window.length / STEPS / 2 else at


def _down(at: datetime, grain: timedelta) -> datetime:
    return at - (at - EPOCH) % grain
