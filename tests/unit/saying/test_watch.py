"""Is everything all right, is anybody watching, what needs hands next?"""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.contracts.feed import Freshness, Lane, ProbeView, Snapshot
from fermwatch.contracts.store import SourceState
from fermwatch.drawing.lines import plain
from fermwatch.drawing.page import Sheet, next_step, overview
from fermwatch.model.batch import Event, EventKind
from fermwatch.model.finding import Alarm, Condition, Phase, Severity
from fermwatch.model.intent import course_of
from fermwatch.model.judgement import PhaseStatement
from fermwatch.saying import watch
from fermwatch.saying.facts import lane_facts
from fermwatch.saying.headline import Urgency, headline
from fermwatch.saying.ink import Ink
from fermwatch.saying.voice import Voice, zone_of
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
        ({"beat_at": NOW - timedelta(hours=3)}, "it has written nothing since today 18:14: the store is locked"),
        (
            {"beat_at": NOW - timedelta(hours=3), "lease_held": False},
            "nobody is watching since today 18:14: start `fermwatch watch`",
        ),
        ({"stopped": True}, "the watcher was stopped today 21:14: start `fermwatch watch`"),
        ({"trouble": "the disk is full: free some space"}, "the disk is full: free some space"),
        ({"last_commit_at": None}, "nothing stored since it started"),
        ({"beat_at": NOW - timedelta(seconds=11)}, "watching · last stored just now"),
        ({"beat_at": NOW - timedelta(seconds=40), "beat_every_s": 60.0}, "watching · last stored just now"),
    ],
)
def test_the_watchers_own_health(change: dict[str, object], words: str) -> None:
    held = change.pop("lease_held", True)
    shown = replace(snapshot(), watcher=replace(watcher(), **change), lease_held=held)  # type: ignore[arg-type]
    assert words in watch.watcher_words(shown, VOICE).text
    assert words in page(shown)


def test_a_cellar_that_nobody_watches_is_not_all_well() -> None:
    shown = replace(snapshot(healthy()), watcher=replace(watcher(), stopped=True))
    assert headline(shown, VOICE).said.ink is Ink.CRITICAL


def test_empty_states_each_name_the_one_next_step() -> None:
    empty = replace(snapshot(), lanes=(), alarms=())
    assert "Name one, with its probes, in fermwatch.toml" in page(empty)
    assert "Start `fermwatch watch`" in page(replace(empty, watcher=None))
    assert "fermwatch batch open" in page(snapshot(replace(healthy(), batch=None, judgement=None)))
    assert "by hand" in page(snapshot(replace(healthy(), probes=())))
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


def test_an_alarm_that_is_over_and_was_missed_is_told_calmly_and_can_be_seen() -> None:
    alarm = replace(hot().alarms[0], condition=Condition.NORMAL, cleared_at=NOW - timedelta(hours=1))
    lane = replace(healthy(), alarms=(alarm,))
    facts = lane_facts(lane, NOW, VOICE)
    assert facts.ink is Ink.PLAIN
    assert watch.unseen(lane) == [alarm]
    told = headline(snapshot(lane), VOICE)
    assert (told.level, told.text) == (Urgency.NOTE, "an alarm is over since today 20:14, not seen yet")
    assert facts.alarms[0].state == "over since today 20:14, not seen yet"


@pytest.mark.parametrize(
    "quiet", [{"shelved_until": NOW + timedelta(hours=1)}, {"out_of_service": True}, {"suppressed_by": "planned crash"}]
)
def test_what_is_quiet_on_purpose_takes_no_row_but_is_counted(quiet: dict[str, object]) -> None:
    alarm = replace(hot().alarms[0], **quiet)  # type: ignore[arg-type]
    facts = lane_facts(replace(hot(), alarms=(alarm,)), NOW, VOICE)
    assert facts.alarms == ()
    assert len(facts.quiet) == 1


def test_the_gravest_unseen_alarm_comes_first() -> None:
    warning = replace(hot().alarms[0], rule="cycling", severity=Severity.WARNING, statement="cycling")
    facts = lane_facts(replace(hot(), alarms=(warning, *hot().alarms)), NOW, VOICE)
    assert [alarm.alarm.severity for alarm in facts.alarms] == [Severity.CRITICAL, Severity.WARNING]


def test_next_is_what_comes_first_in_time() -> None:
    reading = (
        "take one degassed hydrometer reading and enter it with `fermwatch measure` (on Fri 21:14, in about 3 days)"
    )
    task = watch.next_hands(snapshot(healthy(), hot()), VOICE)
    assert task is not None
    assert next_step(task, NOW, VOICE, 120) == [f"Left: {reading}"]
    assert next_step(task, NOW, VOICE, 60) == ["Left: take one degassed hydrometer reading a… (on Fri 21:14)"]
    assert " ".join(next_step(task, NOW, VOICE, 60, 2)) == f"Left: {reading}"
    now = watch.next_hands(snapshot(), VOICE)
    assert now is not None
    assert next_step(now, NOW, VOICE, 120)[0].startswith(
        "Right: measure by hand; then warm it"
    )  # what is due comes first
    assert watch.next_hands(snapshot(stalled(judged=False)), VOICE) is None


def test_stale_and_last_known_keep_their_value_and_their_age() -> None:
    lane = healthy()
    beer = replace(lane.probes[0], freshness=Freshness.LAST_KNOWN, age_s=7200.0)
    facts = lane_facts(replace(lane, probes=(beer, *lane.probes[1:])), NOW, VOICE)
    assert facts.beer.remark == "last known 2 h old"
    assert facts.probes == "beer last known 2 h old, 3 live"


def quiet_lane(**change: object) -> Snapshot:
    return snapshot(replace(healthy(), alarms=(replace(hot().alarms[0], **change),)))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("change", "head", "beside"),
    [
        (
            {"shelved_until": NOW + timedelta(hours=2), "shelved_by": "anna"},
            "quiet: 1 alarm shelved until 23:14",
            "z too warm shelved until 23:14",
        ),
        ({"out_of_service": True}, "quiet: 1 alarm out of service", "z too warm out of service"),
    ],
)
def test_what_somebody_keeps_quiet_is_not_all_well(change: dict[str, object], head: str, beside: str) -> None:
    shown = quiet_lane(**change)
    assert headline(shown, VOICE).text == head
    assert beside in page(shown)
    assert "z Left" in page(shown)


def test_several_that_are_kept_quiet_are_counted_with_the_first_end() -> None:
    end = NOW + timedelta(hours=2)
    alarm = replace(hot().alarms[0], shelved_until=end)
    alarms = (alarm, replace(alarm, rule="cycling", shelved_until=end + timedelta(days=2)), replace(alarm, rule="x"))
    alarms = (*alarms[:2], replace(alarms[2], shelved_until=None, out_of_service=True))
    shown = snapshot(replace(healthy(), alarms=alarms))
    assert headline(shown, VOICE).text == "quiet: 2 alarms shelved, the first until 23:14, 1 out of service"


def test_what_the_rules_keep_quiet_by_themselves_is_well() -> None:
    lane = replace(healthy(), alarms=(replace(hot().alarms[0], suppressed_by="planned crash"),))
    assert headline(snapshot(lane), VOICE).text == "all well"


def at(lane: Lane, beer_c: float, **change: object) -> Lane:
    beer = replace(lane.probes[0], value=beer_c, **change)  # type: ignore[arg-type]
    return replace(lane, probes=(beer, *lane.probes[1:]))


def test_a_beer_outside_its_range_is_told_before_any_alarm() -> None:
    warm, cold = at(healthy(), 21.2), at(healthy(), 16.8)
    assert headline(snapshot(warm), VOICE).said == watch.Said("Left is above its range", Ink.ADVICE, "i")
    assert headline(snapshot(cold), VOICE).text == "Left is below its range"
    assert headline(snapshot(warm, cold), VOICE).text == "2 fermenters outside their ranges"
    assert headline(snapshot(at(healthy(), 21.04)), VOICE).text == "all well"  # shown as 21.0


def test_cold_after_finishing_or_in_a_planned_crash_is_well() -> None:
    cold = at(healthy(), 3.0)
    assert cold.judgement is not None
    done = replace(cold.judgement, phase=PhaseStatement(Phase.CONDITIONING, NOW))
    crash = course_of((Event("E1", NOW, EventKind.CRASH),), NOW)
    for lane in (replace(cold, judgement=done), replace(cold, course=crash)):
        assert headline(snapshot(lane), VOICE).text == "all well"
    assert headline(snapshot(replace(at(cold, 25.0), judgement=done)), VOICE).text == "Left is above its range"


FAULT = "-127.0 °C means that the probe measured nothing"


def test_a_faulty_probe_shows_its_last_good_value_with_age_and_fault() -> None:
    lane = at(healthy(), 18.9, freshness=Freshness.FAULTY, age_s=2400.0, flagged=FAULT)
    facts = lane_facts(lane, NOW, VOICE)
    assert (facts.beer.value, facts.beer.remark) == (18.9, f"faulty, last good 40 min ago: {FAULT}")
    assert facts.probes == f"beer faulty, last good 40 min ago: {FAULT}, 3 live"
    assert headline(snapshot(at(lane, 30.0)), VOICE).text == "Left: beer faulty"  # and not out of its range


def test_a_probe_that_never_said_anything_good_has_no_value() -> None:
    view = ProbeView(healthy().probes[0].probe, Freshness.FAULTY, flagged=FAULT)
    facts = lane_facts(replace(healthy(), probes=(view, *healthy().probes[1:])), NOW, VOICE)
    assert (facts.beer.value, facts.beer.remark) == (None, f"faulty, nothing good yet: {FAULT}")


def test_no_attenuation_by_a_faulty_gravity_probe() -> None:
    lane = healthy(judged=False)
    gravity = replace(lane.probes[3], freshness=Freshness.FAULTY, flagged="1.400 SG cannot be")
    assert lane_facts(replace(lane, probes=(*lane.probes[:3], gravity)), NOW, VOICE).attenuation is None


def test_messages_that_were_no_readings_are_counted_while_watching() -> None:
    shown = replace(snapshot(healthy()), sources=(replace(source(), name="broker", rejected=3),))
    assert watch.watcher_words(shown, VOICE).text.endswith("· broker: 3 messages were no readings · 1 source connected")
    assert "broker: 3 messages were no readings" in page(shown)


def test_an_alarm_that_is_over_asks_for_nothing() -> None:
    alarm = replace(hot().alarms[0], condition=Condition.NORMAL, cleared_at=NOW)
    facts = lane_facts(replace(hot(), alarms=(alarm,)), NOW, VOICE)
    assert facts.alarms[0].remedy == ""


@pytest.mark.parametrize("columns", [40, 80, 120])
def test_a_fault_is_in_sight_at_every_width(columns: int) -> None:
    lane = at(healthy(), 18.9, freshness=Freshness.FAULTY, age_s=2400.0, flagged=f"{FAULT} {FAULT}")
    shown = "\n".join(plain(line) for line in overview(snapshot(lane), Sheet(columns, 23), 0).lines)
    assert "! beer faulty" in shown
