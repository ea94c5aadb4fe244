"""The deciding instant on a machine whose clock may be set, or which may sleep.

Time goes on as the monotonic clock says. When the wall's clock is set, decisions first go on by the time that was: a
clock that is set back at once, or again and again, then decides nothing. Once it has stood for a quarter of an hour it
is believed, and all that runs is moved along. A sleep is believed at once: the kernel counted it. Nobody listened
meanwhile, so it is neither a silence nor a timer that ran out.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.clock import JUMP, Instant, MachineClock

BELIEVED_AFTER_S = 15 * 60.0


@dataclass(frozen=True, slots=True)
class Look:
    """One look at the clocks.

    now: the deciding instant. ahead: how far the wall's clock is ahead of it, not believed so far.
    moved: by how much `now` was moved just now, and with it all that runs. news: what there is to tell, or nothing.
    """

    now: datetime
    ahead: timedelta = timedelta()
    moved: timedelta = timedelta()
    news: tuple[str, ...] = ()


class Timekeeper:
    """Looked at before every decision."""

    def __init__(self, clock: MachineClock) -> None:
        self._clock = clock
        self._last = Instant.of(clock)
        self._ahead = timedelta()
        self._set_s = 0.0

    def look(self) -> Look:
        last, this = self._last, Instant.of(self._clock)
        self._last = this
        news: list[str] = []
        moved = last.slept_until(this) if last.jump_until(this) else timedelta()
        by = last.jump_until(this) - moved
        if moved:
            news.append(f"the machine slept for {in_words(moved)}: nothing was heard meanwhile")
        if abs(by) > JUMP:
            self._ahead += by
            self._set_s = this.monotonic_s
            news.append(f"the machine's clock was set by {by.total_seconds():+.0f} s ({in_words(by)})")
        if abs(self._ahead) <= JUMP:
            self._ahead = timedelta()
        elif this.monotonic_s - self._set_s >= BELIEVED_AFTER_S:
            moved, self._ahead = moved + self._ahead, timedelta()
            news.append(f"the machine's clock is believed from now on, {in_words(moved)} from what it was")
        return Look(this.wall - self._ahead, self._ahead, moved, tuple(news))


def in_words(span: timedelta) -> str:
    """Its length, in the largest unit that it is a few of."""
    seconds = abs(span.total_seconds())
    for unit, name in ((86_400.0, "days"), (3_600.0, "h"), (60.0, "min")):
        if seconds >= 2 * unit:
            return f"{seconds / unit:.3g} {name}"
    return f"{seconds:.0f} s"
