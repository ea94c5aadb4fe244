"""Feeds without a store, for screens: they hand over fabricated snapshots."""

from collections.abc import Callable
from datetime import datetime

from fermwatch.clock import ManualClock
from fermwatch.contracts.feed import Snapshot
from fermwatch.contracts.inbox import Request
from fermwatch.dashboard.app import Ask, Dashboard, Remember
from fermwatch.saying.voice import CANONICAL, Units
from tests.dashboard.snapshots import NOW, snapshot


class StillFeed:
    """The same snapshot for ever, until another is put in its place."""

    def __init__(self, shown: Snapshot) -> None:
        self.shown = shown
        self.closed = False
        self._told: Snapshot | None = None

    def changed(self) -> bool:
        told, self._told = self._told, self.shown
        return told is not self.shown

    def snapshot(self, _wall_now: datetime) -> Snapshot:
        return self.shown

    def close(self) -> None:
        self.closed = True


def dashboard(
    shown: Snapshot | None = None,
    *,
    ask: Ask | None = None,
    asked: list[Request] | None = None,
    typed: bool = False,
    units: Units = CANONICAL,
    remember: Remember | None = None,
) -> Dashboard:
    """A dashboard over a still feed. `asked` gathers what is asked of the inbox."""
    feed = StillFeed(shown or snapshot())
    take: Callable[[Request], None] | None = asked.append if asked is not None else ask
    return Dashboard(
        lambda: feed,
        take,
        "anna",
        ManualClock(NOW),
        site="home",
        ascii_only=typed,
        units=units,
        remember=remember,
    )
