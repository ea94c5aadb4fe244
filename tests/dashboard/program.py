"""The dashboard over a fabricated cellar, to be run in a process of its own: python -m tests.dashboard.program STORY.

Stories: three, hostile, twelve-still, twelve-some, twelve-all, twelve-seldom. With a file name after it, the modules
loaded by then are written there a second after the first frame.
"""

import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from fermwatch.clock import SystemClock
from fermwatch.contracts.feed import Answer, Lane, Query, Snapshot
from fermwatch.contracts.inbox import Request
from fermwatch.dashboard.channel import POLL_S, SELDOM_S
from fermwatch.dashboard.run import run_dashboard
from fermwatch.errors import StoreError
from fermwatch.model.quantity import Quantity
from tests.dashboard.feeds import StillFeed
from tests.dashboard.snapshots import many, snapshot

SELDOM = "twelve-seldom"  # as with --low-bandwidth
CHANGING = {"twelve-still": 0, "twelve-some": 5, "twelve-all": 1, SELDOM: 1}


class MovingFeed:
    """Each read is a second later; every `nth` lane's beer and gravity have moved by a visible step."""

    def __init__(self, first: Snapshot, nth: int, modules: Path | None) -> None:
        self._shown, self._nth, self._modules = first, nth, modules
        self._reads = 0

    def changed(self) -> bool:
        if self._reads and self._modules is not None:
            self._modules.write_text("\n".join(sorted(sys.modules)), encoding="utf-8")
            self._modules = None
        return self._nth > 0 or self._reads == 0

    def snapshot(self, _wall_now: datetime) -> Snapshot:
        self._reads += 1
        if self._nth and self._reads > 1:
            lanes = tuple(
                self._moved(lane) if number % self._nth == self._reads % self._nth else lane
                for number, lane in enumerate(self._shown.lanes)
            )
            self._shown = replace(self._shown, lanes=lanes, now=self._shown.now + timedelta(seconds=1))
        return self._shown

    def _moved(self, lane: Lane) -> Lane:
        step = {Quantity.BEER_TEMPERATURE: 0.1, Quantity.GRAVITY: 0.001}
        sign = 1 if self._reads % 2 else -1
        probes = tuple(
            replace(view, value=view.value + sign * step.get(view.probe.quantity, 0.0))
            if view.value is not None
            else view
            for view in lane.probes
        )
        return replace(lane, probes=probes, judgement=None)

    def answer(self, query: Query, wall_now: datetime) -> Answer:
        return StillFeed(self._shown).answer(query, wall_now)

    def close(self) -> None:
        """Nothing is held."""


def refuse(_request: Request) -> None:
    from tests.dashboard.hostile import worst

    raise StoreError(f"The inbox cannot be written: {worst()}", hint=worst())


def cellar(story: str) -> Snapshot:
    if story == "hostile":
        from tests.dashboard.hostile import hostile_snapshot

        return hostile_snapshot()
    return many(12) if story in CHANGING else snapshot()


def main(story: str, modules: Path | None) -> int:
    shown = cellar(story)
    if story in CHANGING:
        shown = replace(shown, lanes=tuple(replace(lane, judgement=None) for lane in shown.lanes))
    feed = MovingFeed(shown, CHANGING.get(story, 0), modules)
    return run_dashboard(
        lambda: feed, refuse, "anna", SystemClock(), site="home", poll_s=SELDOM_S if story == SELDOM else POLL_S
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], Path(sys.argv[2]) if len(sys.argv) > 2 else None))
