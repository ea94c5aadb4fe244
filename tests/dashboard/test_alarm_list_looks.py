"""What the page of the alarms says, and what its cursor shows."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.alarms.life import Transition
from fermwatch.contracts.feed import JournalAnswer, Snapshot
from fermwatch.contracts.store import JournalEntry
from fermwatch.dashboard.events import AskQuiet, CursorMoved, Happening, Wish
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.alarms import JOURNAL, Alarms
from fermwatch.drawing.lines import plain, width
from fermwatch.model.amounts import temperature
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.telling import Told, Why
from fermwatch.saying.alarm_list import entry_words
from fermwatch.saying.voice import Voice
from tests.dashboard.expected_text import Expected
from tests.dashboard.hostile import NAMES, hostile_lane
from tests.dashboard.snapshots import NOW, healthy, hot, in_package, snapshot, stalled, with_alarms

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]
HOUR = timedelta(hours=1)
HOT = "temperature-high", "vessel:middle"
TOLD = (("phone", NOW - 2 * HOUR, 2), ("desk", NOW - 3 * HOUR, 1))


def alarm(rule: str, subject: str, **more: object) -> Alarm:
    known = Alarm(
        rule,
        subject,
        Condition.RAISED,
        raised_at=NOW - 3 * HOUR,
        occurrence=2,
        statement=f"{rule} is so, at {temperature(24.1)}",
        remedy=f"Look after {rule}.",
    )
    return replace(known, **more)  # type: ignore[arg-type]


def cellar() -> Snapshot:
    """Of every standing one or two: critical, seen, over, shelved, out of service, quiet by its rule, the site's."""
    lanes = (healthy(), hot(), stalled())
    told = (
        alarm("cycling", "vessel:left", acknowledged_at=NOW - HOUR, acknowledged_by="ben"),
        alarm("probe-silent", "probe:middle-gravity", condition=Condition.NORMAL, cleared_at=NOW - HOUR, remedy=""),
        alarm("probe-drifting", "probe:left-gravity", shelved_until=NOW + 5 * HOUR, shelved_by="anna"),
        alarm(
            "probe-silent",
            "probe:right-pressure",
            out_of_service=True,
            out_of_service_by="ben",
            out_of_service_since=NOW - 30 * HOUR,
        ),
        alarm("temperature-low", "vessel:left", suppressed_by="planned crash"),
        alarm("source-lost", "source:board", severity=Severity.CRITICAL),
        alarm("squeeze-the-bottle", "batch:brew", severity=Severity.ADVICE),
        alarm("heat-without-effect", "vessel:middle", suppressed_by="x tells it", told_by="temperature-high"),
    )
    shown = snapshot(*lanes)
    return replace(
        shown,
        alarms=(*shown.alarms, *told),
        in_package=(in_package("Brew", 3.0),),
        told=tuple(Told(name, *HOT, 1, Severity.CRITICAL, Why.AGAIN, at, times) for name, at, times in TOLD),
        notifiers=("phone", "desk"),
    )


def journal() -> JournalAnswer:
    return JournalAnswer(
        JOURNAL,
        (
            JournalEntry(NOW - HOUR, "alarm", "probe:middle-gravity", "probe-silent cleared (warning): it is heard"),
            JournalEntry(NOW - 4 * HOUR, "alarm", "vessel:middle", "temperature-high escalated (critical): It is hot"),
            JournalEntry(NOW - 5 * HOUR, "alarm", "vessel:middle", "temperature-high raised (warning): Beer is warm"),
            JournalEntry(NOW - 30 * HOUR, "alarm", "batch:brew", "squeeze-the-bottle raised (advice): Squeeze it"),
        ),
    )


def known_of(shown: Snapshot | None = None, *, typed: bool = False) -> Known:
    return Known(ascii=typed, snapshot=shown or cellar()).with_answer(journal())


def after(page: Alarms, known: Known, *events: Happening) -> Alarms:
    for event in events:
        step = page.absorb(event, known)
        assert isinstance(step, Alarms)
        page = step
    return page


def text(page: Alarms, known: Known, columns: int, rows: int) -> str:
    drawn = page.draw(known, columns - 1, rows)
    assert max(width(line) for line in drawn.lines) <= columns - 1
    return "".join(f"{plain(line)}\n" for line in drawn.lines)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_every_kind_of_standing_at_every_size(expected: Expected, columns: int, rows: int) -> None:
    shown = text(Alarms("left"), known_of(), columns, rows)
    assert "…" not in shown
    expected.check(f"alarms_{columns}x{rows}", shown)


def test_in_ascii(expected: Expected) -> None:
    shown = text(Alarms("left"), known_of(typed=True), 80, 24)
    assert shown.isascii()
    expected.check("alarms_ascii", shown)


def test_what_is_quiet_says_why_until_when_and_by_whom() -> None:
    shown = " ".join(text(Alarms("left"), known_of(), 120, 40).split())
    assert "quiet: shelved until tomorrow 02:14 by anna" in shown
    assert "quiet: out of service since yesterday 15:14 by ben" in shown
    assert "quiet: planned crash" in shown


def test_one_cause_is_one_line_and_no_statement_stands_twice() -> None:
    shown = text(Alarms("left"), known_of(), 120, 40)
    assert "heat" not in shown
    sentences = [one for one in " ".join(shown.split()).split(". ") if len(one) > 30]
    assert len(sentences) == len(set(sentences))


def test_the_cursor_shows_evidence_and_what_to_do_and_enter_shows_its_history(expected: Expected) -> None:
    known = known_of()
    page, alarms = Alarms("left"), 9
    assert "told: desk today 18:14, phone today 19:14 (2 times)" in text(page, known, 80, 24)
    assert "told nobody yet" in text(after(page, known, CursorMoved(1)), known, 80, 24)
    seen = []
    for _ in range(alarms + 2):
        here = page.draw(known, 99, 40)
        rows = [plain(line) for line, owner in zip(here.lines, here.owners, strict=True) if owner == here.picked]
        assert rows[0].startswith("▌")
        seen.append(rows[0])
        page = after(page, known, CursorMoved(1))
    assert len(set(seen)) == alarms
    more = text(after(Alarms("left"), known, Wish.OPEN), known, 80, 24)
    assert "rule temperature-high" in more
    assert "too warm, graver now (critical)" in more
    expected.check("alarms_more", more)


def test_the_cursor_stays_on_its_alarm_when_a_graver_one_comes() -> None:
    known = known_of()
    page = after(Alarms("left"), known, CursorMoved(3))
    before = next(line for line in text(page, known, 80, 24).splitlines() if line.startswith("▌"))
    shown = cellar()
    graver = alarm("unwatched", "site:watcher", severity=Severity.CRITICAL, raised_at=NOW - 9 * HOUR)
    later = known_of(replace(shown, alarms=(graver, *shown.alarms)))
    assert next(line for line in text(page, later, 80, 24).splitlines() if line.startswith("▌")) == before


def test_seen_and_quiet_are_about_the_one_under_the_cursor() -> None:
    known = known_of()
    page = Alarms("left")
    (one,) = page.waiting(known)
    assert one.rule == "temperature-high"
    asked = page.absorb(Wish.QUIETEN, known)
    assert isinstance(asked, AskQuiet)
    assert asked.alarm == one


def test_without_any_alarm_it_says_so(expected: Expected) -> None:
    known = known_of(snapshot(healthy()))
    assert Alarms("left").absorb(CursorMoved(1), known) == Alarms("left")
    expected.check("alarms_none", text(Alarms("left"), known, 80, 24))


def test_where_nobody_watches_that_goes_before_all() -> None:
    shown = replace(cellar(), wall_now=NOW + 9 * HOUR, lease_held=False)
    assert "nobody is watching since" in text(Alarms("left"), known_of(shown), 80, 24).splitlines()[0]


@pytest.mark.parametrize(("columns", "rows"), [*SIZES, (20, 5), (33, 9), (8, 3)])
def test_no_size_breaks_it(columns: int, rows: int) -> None:
    known = known_of()
    page = Alarms("left")
    for _ in range(10):
        page = after(page, known, CursorMoved(1), Wish.OPEN)
        assert max(width(line) for line in page.draw(known, columns, rows).lines) <= columns


@pytest.mark.parametrize("number", range(200))
def test_two_hundred_hostile_texts_send_no_sequence(number: int) -> None:
    first, second = NAMES[number % len(NAMES)], NAMES[(number * 7 + number // len(NAMES)) % len(NAMES)]
    name = f"{first}{second}{number}"
    lane = hostile_lane(with_alarms(hot(), name), number, name)
    lane = replace(
        lane, alarms=tuple(replace(one, rule=name, shelved_by=name, suppressed_by=name) for one in lane.alarms)
    )
    shown = replace(
        snapshot(lane), told=(Told(name, name, lane.alarms[0].subject, 1, Severity.WARNING, Why.OVER, NOW),)
    )
    told = JournalAnswer(
        JOURNAL, (JournalEntry(NOW, "alarm", name, name), JournalEntry(NOW, "alarm", name, f"{name} raised (x): y"))
    )
    known = Known(snapshot=shown).with_answer(told)
    page = after(Alarms("left"), known, Wish.OPEN)
    said = text(page, known, 80, 24)
    assert all(sign == "\n" or sign.isprintable() for sign in said)
    if "click" in first:
        assert "[@click=app.quit]" in said


def test_every_change_of_an_alarm_is_told_without_its_rule() -> None:
    for change in Transition:
        entry = JournalEntry(NOW, "alarm", "vessel:middle", f"temperature-high {change} (warning): it is 24 now")
        said = entry_words(entry, Voice())
        assert said.startswith("too warm"), change
        assert "24" not in said
