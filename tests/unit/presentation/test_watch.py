"""Is everything all right, is anybody watching, what needs hands next?"""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.contracts.feed import Freshness, Snapshot
from fermwatch.contracts.store import SourceState
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.presentation import watch
from fermwatch.presentation.facts import lane_facts
from fermwatch.presentation.ink import Ink, plain
from fermwatch.presentation.page import Sheet, overview
from fermwatch.presentation.voice import Voice, zone_of
from tests.dashboard.snapshots import NOW, ZONE, healthy, hot, snapshot, source, stalled, watcher

VOICE = Voice(zone=zone_of(ZONE))


def page(shown: Snapshot) -> str:
    return "\n".join(plain(line) for line in overview(shown, Sheet(80, 23), 0).lines)


def test_a_calm_cellar_has_no_colour_at_all() -> None:
    lines = overview(snapshot(healthy()), Sheet(80, 23), 0).lines
    assert {span.ink for line in lines for span in line} <= {Ink.PLAIN, Ink.FAINT, Ink.STRONG, Ink.PICK}
    assert "all well" in page(snapshot(healthy()))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"beat_at": NOW - timedelta(hours=3)}, "nobody is watching since today 18:14: start `fermwatch watch`"),
        ({"stopped": True}, "the watcher was stopped today 21:14: start `fermwatch watch`"),
        ({"trouble": "the disk is full: free some space"}, "the disk is full: free some space"),
        ({"last_commit_at": None}, "nothing stored yet"),
        ({"beat_at": NOW - timedelta(seconds=20)}, "watching · last stored just now"),
    ],
)
def test_the_watchers_own_health(change: dict[str, object], words: str) -> None:
    shown = replace(snapshot(), watcher=replace(watcher(), **change))  # type: ignore[arg-type]
    assert words in watch.watcher_words(shown, VOICE).text
    assert words in page(shown)


def test_a_cellar_that_nobody_watches_is_not_all_well() -> None:
    shown = replace(snapshot(healthy()), watcher=replace(watcher(), stopped=True))
    assert watch.headline(shown, VOICE).ink is Ink.CRITICAL


def test_empty_states_each_name_the_one_next_step() -> None:
    empty = replace(snapshot(), lanes=(), alarms=())
    assert "Name one, with its probes, in fermwatch.toml" in page(empty)
    assert "Start `fermwatch watch`" in page(replace(empty, watcher=None))
    assert "fermwatch batch open" in page(snapshot(replace(healthy(), batch=None, judgement=None)))
    assert "no probe" in page(snapshot(replace(healthy(), probes=())))
    bare = replace(healthy(judged=False), probes=healthy().probes[:3])
    assert "no gravity probe" in page(snapshot(bare))


def test_a_source_that_is_away_is_told_with_its_reason() -> None:
    away = replace(source(), state=SourceState.UNAVAILABLE, detail="unplugged: plug it in again", since=NOW)
    shown = replace(snapshot(healthy()), sources=(away,))
    assert "! board is away since today 21:14: unplugged: plug it in again" in page(shown)
    assert "0 of 1 sources connected" in page(shown)


def test_an_alarm_of_a_source_is_told_once() -> None:
    away = replace(source(), state=SourceState.UNAVAILABLE, detail="unplugged", since=NOW)
    alarm = Alarm("source-lost", "source:board", Condition.RAISED, raised_at=NOW, occurrence=1, statement="board lost")
    shown = replace(snapshot(healthy()), sources=(away,), alarms=(alarm,))
    assert [said.text for said in watch.site_troubles(shown, VOICE)] == ["board lost since today 21:14."]


def test_an_alarm_that_was_seen_loses_its_colour_and_says_who_saw_it() -> None:
    alarm = replace(hot().alarms[0], acknowledged_at=NOW, acknowledged_by="anna")
    facts = lane_facts(replace(hot(), alarms=(alarm,)), NOW, VOICE)
    assert facts.ink is Ink.PLAIN
    assert facts.alarms[0].state == "since today 16:40, seen by anna"


def test_an_alarm_that_is_over_but_unseen_still_asks() -> None:
    alarm = replace(hot().alarms[0], condition=Condition.NORMAL, cleared_at=NOW - timedelta(hours=1))
    facts = lane_facts(replace(hot(), alarms=(alarm,)), NOW, VOICE)
    assert facts.ink is Ink.CRITICAL
    assert facts.alarms[0].state == "over since today 20:14, not seen yet"


@pytest.mark.parametrize(
    "quiet", [{"shelved_until": NOW + timedelta(hours=1)}, {"out_of_service": True}, {"suppressed_by": "planned crash"}]
)
def test_what_is_quiet_on_purpose_takes_no_row_but_is_counted(quiet: dict[str, object]) -> None:
    alarm = replace(hot().alarms[0], **quiet)  # type: ignore[arg-type]
    facts = lane_facts(replace(hot(), alarms=(alarm,)), NOW, VOICE)
    assert facts.alarms == ()
    assert facts.quiet == 1


def test_the_gravest_unseen_alarm_comes_first() -> None:
    warning = replace(hot().alarms[0], rule="cycling", severity=Severity.WARNING, statement="cycling")
    facts = lane_facts(replace(hot(), alarms=(warning, *hot().alarms)), NOW, VOICE)
    assert [alarm.alarm.severity for alarm in facts.alarms] == [Severity.CRITICAL, Severity.WARNING]


def test_next_is_what_comes_first_in_time() -> None:
    assert watch.next_hands(snapshot(), VOICE) == "Left: hydrometer reading Fri 21:14. To see whether it has ended"
    assert watch.next_hands(snapshot(stalled(judged=False)), VOICE) == ""


def test_stale_and_last_known_keep_their_value_and_their_age() -> None:
    lane = healthy()
    beer = replace(lane.probes[0], freshness=Freshness.LAST_KNOWN, age_s=7200.0)
    facts = lane_facts(replace(lane, probes=(beer, *lane.probes[1:])), NOW, VOICE)
    assert facts.beer.remark == "last known 2 h old"
    assert facts.probes == "beer last known 2 h old, 3 live"
