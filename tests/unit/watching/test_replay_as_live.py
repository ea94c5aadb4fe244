"""A replay tells what a watcher would have told: it judges and decides by the same parts."""

import math
from datetime import timedelta

from fermwatch.alarms.life import Transition
from fermwatch.clock import from_ms
from fermwatch.contracts.inbox import OutcomeState
from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import FileInbox
from fermwatch.ingest.pipeline import Intake
from fermwatch.model.amounts import plain
from fermwatch.model.reading import Reading
from fermwatch.replaying.input import GRAVITY, TEMPERATURE, Row
from fermwatch.replaying.replay import TICK, replay
from fermwatch.watching.deciding import AlarmChange
from fermwatch.watching.logbook import Logbook
from tests.support.samples import batch, opening

PITCHED = batch().pitched_at
TOLD = {Transition.RAISED: "raised", Transition.CLEARED: "cleared"}
Alarms = list[tuple[str, str, str, str]]


def rows() -> list[Row]:
    """Three days of an ale that runs hot for half a day, warms on the first, and whose float jumps once."""
    found = []
    for minutes in range(0, 72 * 60, 10):
        hour, at = minutes / 60, PITCHED + timedelta(minutes=minutes)
        celsius = 16.0 + 2.0 * hour if hour < 2.0 else 24.5 if 30.0 < hour < 42.0 else 20.0
        points = 38.0 / (1.0 + math.exp((hour - 45.0) / 9.0)) + 12.0 + (minutes // 10 % 3 - 1)
        found.append(Row(at, "left-beer", TEMPERATURE, celsius))
        found.append(Row(at, "left-gravity", GRAVITY, 1.5 if minutes == 1200 else round(1.0 + points / 1000.0, 4)))
    return found


def replayed() -> Alarms:
    told = [one for one in replay(rows(), batch()) if one["event"] == "alarm"]
    return [(one["at"], one["rule"], one["state"], plain(one["statement"])) for one in told]


def watched(book: Logbook) -> Alarms:
    changes: list[AlarmChange] = []
    tick = PITCHED + TICK
    for row in rows():
        while tick < row.at:
            changes += book.decide(tick)
            tick += TICK
        series = 1 if row.quantity == TEMPERATURE else 2
        book.take(Intake((Reading(series, round(row.at.timestamp() * 1000), row.value),)))
    return [
        (f"{change.at:%Y-%m-%dT%H:%M:%SZ}", change.alarm.rule, TOLD[told], plain(change.alarm.statement))
        for change in changes
        for told in change.transitions
        if told in TOLD and not change.alarm.rule.startswith("probe-")  # how often a probe speaks, a log does not say
    ]


def test_the_alarms_of_a_replay_are_those_of_a_watcher(writer: Writer, inbox: FileInbox) -> None:
    book = Logbook(writer, inbox)
    book.begin(PITCHED)
    inbox.put(opening(batch()))
    (outcome,) = book.attend(from_ms(round(PITCHED.timestamp() * 1000)))
    assert outcome.state is OutcomeState.DONE
    alarms = replayed()
    assert {"temperature-high", "leaving-range"} <= {rule for _, rule, _, _ in alarms}
    assert watched(book) == alarms
