"""What happened to a beer, each thing once, with its sentence."""

from dataclasses import replace
from datetime import datetime, timedelta

from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import Bucket, JournalEntry
from fermwatch.model.amounts import temperature
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.model.finding import Alarm
from fermwatch.model.window import last_day
from fermwatch.saying.marks import Sign, marks
from fermwatch.saying.voice import US, Units, Voice
from tests.dashboard.snapshots import NOW, healthy, hot

HOUR = timedelta(hours=1)
RAISED = f"temperature-high raised (critical): Beer {temperature(24.6)} is too warm"


def told(lane: Lane, *journal: JournalEntry, units: Units | None = None) -> list[tuple[Sign, str]]:
    found = marks(lane, Curves(last_day(NOW)), journal, NOW, Voice(units or Units()))
    assert [one.at for one in found] == sorted(one.at for one in found)
    return [(one.sign, one.sentence) for one in found]


def entry(text: str, *, at: datetime = NOW - HOUR, subject: str = "vessel:middle") -> JournalEntry:
    return JournalEntry(at, "alarm", subject, text)


def alarms(*found: tuple[Sign, str]) -> list[str]:
    return [sentence for sign, sentence in found if sign is Sign.ALARM]


def test_the_journal_tells_of_alarms_that_are_long_over() -> None:
    lane = replace(hot(), alarms=())
    over = entry("temperature-high cleared (critical): Beer is within", at=NOW - HOUR / 2)
    assert alarms(*told(lane, over, entry(RAISED))) == [
        "Alarm, too warm: Beer 24.6 °C is too warm",
        "Over: too warm.",
    ]


def test_what_the_journal_and_the_alarm_both_tell_is_told_once() -> None:
    lane = hot()
    raised_at = lane.alarms[0].raised_at
    assert raised_at is not None
    assert len(alarms(*told(lane, entry(RAISED, at=raised_at + timedelta(seconds=30))))) == 1
    assert len(alarms(*told(lane))) == 1


def test_who_saw_it_is_told() -> None:
    seen = replace(hot().alarms[0], acknowledged_at=NOW - HOUR, acknowledged_by="anna")
    assert "Seen by anna: too warm." in alarms(*told(replace(hot(), alarms=(seen,))))


def test_another_fermenters_alarms_and_lines_that_are_none_are_no_marks() -> None:
    lane = replace(hot(), alarms=())
    others = (
        entry(RAISED, subject="vessel:left"),
        entry("temperature-high stale (critical): nothing heard"),
        entry("something else"),
    )
    assert alarms(*told(lane, *others)) == []


def test_what_was_before_the_pitch_and_what_was_taken_back_is_no_mark() -> None:
    lane = healthy()
    assert lane.batch is not None
    early = Event("a", lane.batch.pitched_at - HOUR, EventKind.NOTE, text="cleaned")
    void = Event("b", NOW - HOUR, EventKind.NOTE, text="oops", voided=True)
    wrong = GravityMeasurement("m", NOW - HOUR, 1.100, voided=True)
    signs = {sign for sign, _ in told(replace(lane, events=(early, void), measurements=(wrong,)))}
    assert signs == {Sign.PITCHED, Sign.PHASE, Sign.DONE}


def test_sentences_are_in_the_readers_units_and_harmless() -> None:
    lane = replace(healthy(), events=(Event("a", NOW - HOUR, EventKind.NOTE, text="\x1b[31mred[/]"),))
    said = " ".join(sentence for _, sentence in told(lane, units=US))
    assert "Pitched at 1.052, 5.3 US gal, clean ale yeast." in said
    assert "\x1b" not in said
    assert "[/]" in said


def test_an_empty_fermenter_has_no_marks() -> None:
    standing: tuple[Alarm, ...] = hot().alarms
    assert told(replace(healthy(), batch=None, alarms=standing)) == []


def test_every_sign_is_a_letter_of_its_own() -> None:
    letters = [sign.letter for sign in Sign]
    assert len(set(letters)) == len(letters)
    assert all(len(letter) == 1 and letter.isascii() for letter in letters)


def test_a_changed_set_point_is_told_unless_a_step_of_the_plan_told_it() -> None:
    lane, at = healthy(), NOW - 20 * HOUR
    day = last_day(NOW)
    set_to = tuple(Bucket(at + number * HOUR, 9, one, one, one) for number, one in enumerate((18.0, 18.0, 20.0, 20.0)))
    found = marks(lane, Curves(day, set_point=set_to), (), NOW, Voice())
    assert [one.sentence for one in found if one.sign is Sign.SET] == ["Set from 18.0 °C to 20.0 °C."]
    step = Event("p1", at + 1.5 * HOUR, EventKind.PLAN, {"steps": "20C until told"})
    found = marks(replace(lane, events=(step,)), Curves(day, set_point=set_to), (), NOW, Voice())
    assert [one.sign for one in found if one.sign in {Sign.SET, Sign.DECLARED}] == [Sign.DECLARED]
