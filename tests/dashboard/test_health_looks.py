"""What the page of the instruments says: each that is not well with its remedy, and all others on a row."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fermwatch.contracts.feed import Freshness, HealthAnswer, HealthQuery, Snapshot
from fermwatch.contracts.kept import Misread, StoreRoom
from fermwatch.contracts.store import SourceState
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.instruments import Instruments
from fermwatch.drawing.lines import plain, width
from fermwatch.model.finding import Alarm, Condition, Severity
from fermwatch.model.quantity import Quantity
from fermwatch.model.telling import NotifierStatus
from fermwatch.saying.health import health, size_words
from fermwatch.saying.voice import US, Units, Voice
from tests.dashboard.expected_text import Expected
from tests.dashboard.snapshots import NOW, healthy, hot, probe, snapshot, view

PAGE = Instruments()
ROOM = StoreRoom(48_000_000, 9_000_000_000)
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


def alarm(rule: str, subject: str, statement: str, remedy: str) -> Alarm:
    since = NOW - timedelta(hours=3)
    return Alarm(
        rule,
        subject,
        Condition.RAISED,
        Severity.WARNING,
        since=since,
        raised_at=since,
        occurrence=1,
        statement=statement,
        remedy=remedy,
    )


def troubled() -> Snapshot:
    """A float is silent, another probe beside it reads elsewhere, and a board sends what is no reading."""
    second = replace(view("left", Quantity.BEER_TEMPERATURE, 21.4), probe=probe("left", Quantity.BEER_TEMPERATURE))
    second = replace(second, probe=replace(second.probe, slug="left-strap"))
    lane = healthy()
    lane = replace(lane, probes=(*lane.probes[:3], replace(lane.probes[3], freshness=Freshness.STALE), second))
    silent = alarm(
        "probe-silent", "probe:left-gravity", "left-gravity has said nothing for 3 h", "Look at its battery."
    )
    shown = snapshot(lane, hot())
    rejecting = replace(
        shown.sources[0], rejected=12, last_rejection="no number: 'nan'", unbound_channels=("spare", "door")
    )
    return replace(shown, alarms=(silent,), sources=(rejecting, *shown.sources[1:]))


def known_of(shown: Snapshot, *, typed: bool = False, units: Units | None = None, **more: object) -> Known:
    answer = HealthAnswer(HealthQuery(), **{"room": ROOM, **more})  # type: ignore[arg-type]
    return Known(ascii=typed, units=units or Units(), snapshot=shown).with_answer(answer)


def text(known: Known, columns: int, rows: int) -> str:
    drawn = PAGE.draw(known, columns - 1, rows)
    assert max(width(line) for line in drawn.lines) <= columns - 1
    return "".join(f"{plain(line)}\n" for line in drawn.lines)


def troubles(shown: Snapshot, answer: HealthAnswer | None = None) -> list[str]:
    return [f"{one.mark} {one.text} {one.remedy}".strip() for one in health(shown, answer, Voice()).troubles]


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_what_is_not_well_comes_first(expected: Expected, columns: int, rows: int) -> None:
    expected.check(f"health_{columns}x{rows}", text(known_of(troubled()), columns, rows))


def test_where_all_is_well_it_says_so(expected: Expected) -> None:
    shown = replace(snapshot(healthy()), alarms=())
    said = text(known_of(shown, notifiers=(NotifierStatus("phone", "command", NOW, NOW),)), 80, 24)
    assert "Everything is heard, kept and watched." in said
    expected.check("health_well", said)


def test_in_ascii_and_in_us_units() -> None:
    assert text(known_of(troubled(), typed=True), 80, 24).isascii()
    assert "°C" not in text(known_of(troubled(), units=US), 80, 24)


def test_each_trouble_has_its_remedy() -> None:
    said = troubles(troubled())
    assert said[0].startswith("! left-gravity has said nothing for 3 h, since today 17:14. Look at its battery.")
    assert any("12 messages were no readings, the last: no number: 'nan'. Compare its format" in one for one in said)
    assert any("brings what no probe is named for: spare, door." in one for one in said)
    apart = "Left: left-beer-temperature and left-strap hang in one beer, and are 2.2 °C apart. Compare both"
    assert any(apart in one for one in said)


def test_disk_configuration_rows_and_messages() -> None:
    shown = replace(snapshot(healthy()), alarms=(), misread=(Misread("event", "E1", "a word", newer=True),))
    assert shown.watcher is not None
    shown = replace(shown, watcher=replace(shown.watcher, refused_configuration="line 3: no such key"))
    failing = NotifierStatus("phone", "command", NOW, None, None, NOW - timedelta(hours=2), "exit status 1", 3)
    said = " | ".join(troubles(shown, HealthAnswer(HealthQuery(), StoreRoom(1, 400_000_000), (failing,))))
    assert "The new configuration was refused: line 3: no such key Mend it" in said
    assert "The store's disk has 400 MB left. Free some" in said
    assert "phone tells nobody since today 18:14: exit status 1. 3 messages wait. Try it: fermwatch notify test" in said
    assert "is of a newer version of fermwatch, and is passed over: a word. Update this fermwatch." in said


def test_nobody_watching_is_the_first_of_it() -> None:
    shown = replace(snapshot(healthy()), alarms=(), watcher=None)
    assert troubles(shown)[0].startswith("!! Nobody has watched yet")


def test_what_is_quiet_on_purpose_is_told_calmly() -> None:
    quiet = replace(
        alarm("probe-silent", "probe:x", "x is silent", "Look."), suppressed_by="no beer is in the fermenter"
    )
    (said,) = troubles(replace(snapshot(healthy()), alarms=(quiet,)))
    assert not said.startswith("!")


@pytest.mark.parametrize(
    ("count", "said"), [(0, "0 kB"), (48_400, "48 kB"), (48_400_000, "48 MB"), (9_040_000_000, "9.0 GB")]
)
def test_sizes_as_disks_are_sold(count: int, said: str) -> None:
    assert size_words(count) == said


@pytest.mark.parametrize("state", list(SourceState))
@pytest.mark.parametrize(("columns", "rows"), [*SIZES, (20, 5), (8, 3)])
def test_no_state_and_no_size_breaks_it(state: SourceState, columns: int, rows: int) -> None:
    shown = troubled()
    shown = replace(shown, sources=tuple(replace(one, state=state, detail="x" * 300) for one in shown.sources))
    for known in (Known(snapshot=shown), known_of(shown), Known()):
        assert max(width(line) for line in PAGE.draw(known, columns, rows).lines) <= columns
