"""Names that try to take over a terminal or a mark-up reader, in every place that a device or a person can name."""

from dataclasses import replace
from datetime import timedelta

from fermwatch.contracts.feed import Lane, Snapshot
from fermwatch.contracts.store import SourceState
from fermwatch.model.finding import Evidence
from fermwatch.model.probe import Vessel
from tests.dashboard.snapshots import NOW, hot, snapshot, source, stalled, watcher, with_alarms

NAMES = (
    "[/]",
    "[/b]",
    "[@click=app.quit]x[/]",
    "[link=file:///etc]y[/]",
    "\x1b[31mred",
    "\x1b]52;c;aGVsbG8=\x07",
    "\x1b]0;title\x07",
    "\x9b31m\x9d52;c;eA==\x9c",
    "\u202eabc\u2066d",
    "line\u2028break\r\n\tend\x00\x7f",
    "\u200bzero\ufeff\u00ad",
    "\U0001f37a\u4e2d\u6587\u0301",
    "\ud800",
)


def worst() -> str:
    return " ".join(NAMES)


def hostile_lane(lane: Lane, number: int, name: str) -> Lane:
    """The lane with the name in each of its texts."""
    lane = with_alarms(lane, name)
    alarms = tuple(
        replace(alarm, statement=name, remedy=f"{name} {worst()}", acknowledged_by=name) for alarm in lane.alarms
    )
    batch = (
        replace(lane.batch, name=name, notes=name, yeast=replace(lane.batch.yeast, name=name)) if lane.batch else None
    )
    probes = tuple(
        replace(view, flagged=name, probe=replace(view.probe, slug=name, source=name, placement=name))
        for view in lane.probes
    )
    judgement = lane.judgement
    if judgement is not None and judgement.verdict is not None and judgement.phase is not None:
        gate = Evidence(name, met=False, statement=name, remedy=name)
        judgement = replace(
            judgement,
            verdict=replace(judgement.verdict, reasons=(name,), evidence=(gate,), next_reading_why=name),
            phase=replace(judgement.phase, reason=name, evidence=(gate,)),
        )
    vessel = Vessel(f"{number}{name}", name, 20.0)
    return replace(lane, vessel=vessel, batch=batch, probes=probes, alarms=alarms, judgement=judgement)


def hostile_snapshot() -> Snapshot:
    stories = (hot(), stalled())
    lanes = tuple(hostile_lane(stories[number % 2], number, name) for number, name in enumerate(NAMES))
    shown = snapshot(*lanes)
    refused = replace(source(), name=worst(), detail=worst(), state=SourceState.REFUSED)
    status = replace(watcher(), trouble=worst(), beat_at=NOW + timedelta(seconds=1))
    return replace(shown, site=worst(), sources=(refused,), watcher=status)
