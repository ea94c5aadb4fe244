"""Times that no beer has: at the door of the watcher, on the command line, in files, and once they are stored."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fermwatch.contracts.inbox import OutcomeState, RequestKind
from fermwatch.inbox.sending import put
from fermwatch.model.batch import Batch, Event, EventKind
from fermwatch.plain_data import to_plain
from tests.support.command_line import CommandLine, command_line
from tests.support.samples import request
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
OPEN = (
    "batch", "open", "Harvest Ale", "--vessel", "left", "--yeast", "clean-ale", "--volume", "18L", "--og", "1.052",
    "--at", "2026-02-22 18:00", "--yes",
)  # fmt: skip
END = "9999-12-31T23:59:00+00:00"


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "100")
    made = command_line(tmp_path / "store", NOW, capsys)
    made.done(*OPEN)
    return made


def brewing(desk: CommandLine) -> Batch:
    with desk.reader() as reader:
        return reader.batches()[0]


def declared(data: dict[str, Any]) -> Event:
    return Event("E1", NOW - timedelta(hours=1), EventKind.REST, {"target_c": 19.0, **data})


@pytest.mark.parametrize(
    ("data", "told"),
    [
        ({"until": END}, "rest: until: 9999-12-31 is more than a year after it began."),
        ({"by": END}, "rest: by: 9999-12-31 is more than a year after it began."),
        ({"until": "2027-03-10T00:00:00+00:00"}, "rest: until: 2027-03-10 is more than a year after it began."),
        ({"until": "2026-03-01T17:00:00+00:00"}, "rest: until: 2026-03-01 17:00 UTC is before it began."),
    ],
)
def test_a_letter_that_declares_what_never_ends_is_refused(desk: CommandLine, data: dict[str, Any], told: str) -> None:
    letter = {"batch": brewing(desk).id, "event": to_plain(declared(data))}
    put(desk.directory, request(RequestKind.EVENT, letter, created_at=NOW))
    (outcome,) = desk.attend()
    assert (outcome.state, outcome.reason) == (OutcomeState.REFUSED, told)
    assert desk.type("status").status == 0


@pytest.mark.parametrize("zone", ["UTC", "Europe/Vienna", "America/New_York"])
@pytest.mark.parametrize("until", [END, "0001-01-01T00:00:00+00:00"])
def test_one_that_is_stored_leaves_every_screen_standing(desk: CommandLine, until: str, zone: str) -> None:
    """As an earlier version stored it."""
    batch = brewing(desk)
    writer = open_writer(desk.directory, "home", NOW, ballast_bytes=4096)
    writer.declare(zone, writer.vessels(), [one.probe for one in writer.series()], NOW)
    event = declared({"until": "2026-03-05T00:00:00+00:00"})
    writer.apply(request(RequestKind.EVENT, {"batch": batch.id, "event": to_plain(event)}), NOW)
    connection = writer._connection  # type: ignore[attr-defined]
    connection.execute("DROP TRIGGER event_is_not_rewritten")
    connection.execute("UPDATE event SET event = replace(event, '2026-03-05T00:00:00+00:00', ?)", (until,))
    writer.close()
    with desk.watched():
        for words in (("status",), ("status", "--json"), ("batch", "show", "left"), ("bottle", "left"), ("alarms",)):
            said = desk.type(*words)
            assert said.status in {0, 1}, (words, said.error)
            assert said.text


@pytest.mark.parametrize("until", ["9999-12-31", "9999-12-31 23:59", "0001-01-01", "8999-12-31 23:59", "999d"])
def test_a_time_at_the_end_of_the_calendar_is_refused_in_a_sentence(desk: CommandLine, until: str) -> None:
    for kind, option in (("rest", "--until"), ("ramp", "--by")):
        said = desk.type("note", "left", kind, "--target", "19C", option, until, "--yes")
        assert said.status == 2
        assert said.error.startswith(f"fermwatch: {option}: ")


BATCH = """name = "Harvest Ale"
og_sg = 1.052
pitched_at = 2026-02-22T18:00:00Z
volume_l = 19.0
yeast = "clean-ale"
"""
ROW = "time,probe,quantity,value\n{},T1,temperature_C,19.0\n"


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "1066-10-14T09:00:00Z"])
@pytest.mark.parametrize("command", ["replay", "import"])
def test_a_log_of_no_time_is_refused_with_its_line(desk: CommandLine, tmp_path: Path, command: str, at: str) -> None:
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    log.write_text(ROW.format(at))
    batch.write_text(BATCH)
    more = ("--vessel", "right") if command == "import" else ()
    said = desk.type(command, str(log), "--batch", str(batch), *more)
    assert said.status == 2
    assert f"log.csv:2: time '{at}' cannot be meant." in said.error


@pytest.mark.parametrize("command", ["replay", "import"])
@pytest.mark.parametrize(
    ("key", "said_so"),
    [
        ("pitched_at", BATCH.replace("2026-02-22T18:00:00Z", "0001-01-01T00:00:00+14:00")),
        (
            "event[1].until",
            f'{BATCH}[[event]]\nat = 2026-02-25T00:00:00Z\nkind = "rest"\ntarget_c = 19.0\nuntil = {END}\n',
        ),
    ],
)
def test_a_batch_file_of_no_time_is_refused_with_its_key(
    desk: CommandLine, tmp_path: Path, command: str, key: str, said_so: str
) -> None:
    log, batch = tmp_path / "log.csv", tmp_path / "batch.toml"
    log.write_text(ROW.format("2026-02-25T12:00:00Z"))
    batch.write_text(said_so)
    more = ("--vessel", "right") if command == "import" else ()
    said = desk.type(command, str(log), "--batch", str(batch), *more)
    assert said.status == 78
    assert f"{key}: " in said.error
    assert "cannot be meant" in said.error
