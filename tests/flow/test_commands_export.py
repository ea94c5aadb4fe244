"""`fermwatch export`: every table whole, for a spreadsheet and for a program, and harmless to both."""

import csv
import io
import json
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.contracts.store import JournalEntry
from fermwatch.model.finding import Alarm, Condition
from fermwatch.report.table_files import defused
from fermwatch.report.tables import TABLES, Scope, rows_of
from tests.support.command_line import CommandLine, command_line
from tests.support.stores import open_writer

NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)
HOSTILE = '=HYPERLINK("http://nowhere.invalid","look")'


@pytest.fixture
def site(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    line = command_line(tmp_path / "store", NOW, capsys)
    for vessel, name in (("left", "Plain ale"), ("right", HOSTILE)):
        line.done("batch", "open", name, "--vessel", vessel, "--og", "1.050", "--yeast", "clean-ale", "--yes")
    line.clock.advance(timedelta(hours=3).total_seconds())
    line.hear_steady("left-beer", 19.0)
    line.done("measure", "left", "hydrometer", "1.045", "--sample", "20C", "--degassed", "--yes")
    line.done("note", "left", "smell", "-1+cmd|' /C calc'!A0", "--yes")
    with open_writer(line.directory, "home", line.clock.now(), ballast_bytes=4096) as writer:
        alarm = Alarm("temperature-high", "vessel:left", Condition.RAISED, since=NOW, raised_at=NOW, statement="@x")
        writer.save_alarms([alarm], [JournalEntry(NOW, "alarm", "vessel:right", "temperature-high raised")])
    return line


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def exported(site: CommandLine, *words: str) -> list[dict[str, str]]:
    said = site.type("export", *words)
    assert said.status == 0, said.error
    return table(said.text)


def test_a_directory_holds_a_file_of_each_table_and_both_formats_say_the_same(
    site: CommandLine, tmp_path: Path
) -> None:
    for form in ("csv", "jsonl"):
        said = site.type("export", str(tmp_path / "out"), "--format", form)
        assert said.status == 0, said.error
        assert "batches 2, measurements 1, events 1, readings 12, alarms 1" in said.text
    for one in TABLES:
        rows = table((tmp_path / "out" / f"{one.name}.csv").read_text(encoding="utf-8"))
        lines = (tmp_path / "out" / f"{one.name}.jsonl").read_text(encoding="ascii").splitlines()
        plain = [json.loads(line) for line in lines]
        assert len(rows) == len(plain) > 0 or one.name == "verdicts", one.name
        for row, other in zip(rows, plain, strict=True):
            assert tuple(row) == tuple(other) == one.columns
            assert {name for name, text in row.items() if not text} == {
                name for name, value in other.items() if value in (None, "", [], {})
            }
    assert not list((tmp_path / "out").glob(".*"))


def test_readings_are_calibrated_and_raw_with_units_in_the_names(site: CommandLine) -> None:
    rows = exported(site, "--what", "readings")
    assert len(rows) == 12
    first = rows[0]
    assert first["at"] == "2026-03-20T13:00:00.000Z"
    assert (first["probe"], first["fermenter"], first["quantity"]) == ("left-beer", "left", "beer-temperature")
    assert (float(first["uncalibrated_c"]), float(first["value_c"])) == (19.0, 19.5)
    assert (first["value_sg"], first["believed"], first["flags"]) == ("", "true", "")


def test_a_probe_that_moved_is_told_where_it_was_then(site: CommandLine) -> None:
    assert [one["batch"] for one in exported(site, "--what", "measurements", "--batch", "left")] == ["Plain ale"]
    assert exported(site, "--what", "readings", "--batch", "right") == []
    assert len(exported(site, "--what", "readings", "--batch", "left")) == 12
    assert [one["subject"] for one in exported(site, "--what", "alarms", "--batch", "right")] == []


def test_what_is_said_of_a_fermenter_is_of_the_beer_that_was_in_it_then(site: CommandLine) -> None:
    """Plain ale is in its bottles while the next beer gets too warm in the same bucket."""
    left = site.clock.now()
    with site.reader() as reader:
        (ale,) = (one for one in reader.batches() if one.vessel == "left")
    later = left + timedelta(days=3)
    said = [("vessel:left", "too warm"), ("probe:left-beer", "silent"), (f"batch:{ale.id}", "may hold pressure")]
    scope = Scope(replace(ale, packaged_at=left))
    with open_writer(site.directory, "home", later, ballast_bytes=4096) as writer:
        alarms = [Alarm("temperature-low", about, Condition.RAISED, since=later, raised_at=later) for about, _ in said]
        writer.save_alarms(alarms, [JournalEntry(later, "alarm", about, text) for about, text in said])
    with site.reader() as reader:
        tables = {one.name: list(rows_of(one, reader, scope)) for one in TABLES if one.name in {"alarms", "journal"}}
    assert [one["text"] for one in tables["journal"] if one["at"] > "2026-03-22"] == ["may hold pressure"]
    assert {(one["rule"], one["subject"]) for one in tables["alarms"]} == {
        ("temperature-high", "vessel:left"),
        ("temperature-low", f"batch:{ale.id}"),
    }


def test_nothing_of_before_since(site: CommandLine) -> None:
    rows = exported(site, "--what", "readings", "--since", "2026-03-20T14:30:00Z")
    assert [one["at"][11:16] for one in rows] == ["14:30", "14:40", "14:50"]
    assert len(exported(site, "--what", "batches", "--since", "2026-03-20T14:30:00Z")) == 2


def test_no_cell_of_a_text_is_a_formula_and_numbers_stay_numbers(site: CommandLine, tmp_path: Path) -> None:
    site.type("export", str(tmp_path / "out"))
    cells = {
        cell
        for one in TABLES
        for row in table((tmp_path / "out" / f"{one.name}.csv").read_text())
        for cell in row.values()
    }
    assert f"'{HOSTILE}" in cells
    assert "'@x" in cells
    assert not [cell for cell in cells if cell.lstrip().startswith(("=", "+", "@"))]
    with open_writer(site.directory, "home", NOW, ballast_bytes=4096):
        pass
    site.hear("left-beer", {NOW - timedelta(hours=1): -1.5})
    assert "-1.5" in {one["uncalibrated_c"] for one in exported(site, "--what", "readings")}


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("  =1+1", "'  =1+1"),
        ("＝1+1", "'＝1+1"),
        ("\t=1", "'\\x09=1"),
        ("\rx", "'\\x0dx"),
        ("-3 points", "'-3 points"),
        ("a=b", "a=b"),
        ("\x1b[31mred", "\\x1b[31mred"),
    ],
)
def test_what_a_spreadsheet_would_run_is_text(text: str, cell: str) -> None:
    assert defused(text) == cell


def test_an_earlier_export_is_written_over_only_where_that_is_said_and_never_through_a_link(
    site: CommandLine, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    assert site.type("export", str(out)).status == 0
    refused = site.type("export", str(out))
    assert refused.status == 2
    assert "batches.csv" in refused.error
    victim = tmp_path / "victim"
    victim.write_text("mine")
    (out / "events.csv").unlink()
    (out / "events.csv").symlink_to(victim)
    assert site.type("export", str(out), "--overwrite").status == 0
    assert victim.read_text() == "mine"
    assert not (out / "events.csv").is_symlink()


def test_neither_where_to_nor_what_is_one_sentence(site: CommandLine) -> None:
    said = site.type("export")
    assert said.status == 2
    assert "--what readings" in said.error


def test_parquet_says_what_json_lines_say_with_a_type_for_each_column(site: CommandLine, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    for form in ("jsonl", "parquet"):
        said = site.type("export", str(tmp_path / "out"), "--format", form)
        assert said.status == 0, said.error
    for one in TABLES:
        lines = (tmp_path / "out" / f"{one.name}.jsonl").read_text(encoding="ascii").splitlines()
        read = parquet.read_table(tmp_path / "out" / f"{one.name}.parquet")
        assert tuple(read.column_names) == one.columns
        for row, line in zip(read.to_pylist(), lines, strict=True):
            for name, value in json.loads(line).items():
                found = row[name]
                if isinstance(found, datetime):
                    assert found == datetime.fromisoformat(value), name
                elif isinstance(value, list | dict):
                    assert json.loads(found) == value, name
                else:
                    assert found == value, name
                    assert type(found) is not str or isinstance(value, str), name


def test_without_its_package_parquet_is_one_sentence(site: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    said = site.type("export", "--what", "readings", "--format", "parquet")
    assert said.status == 2
    assert 'pip install "fermwatch[parquet]"' in said.error


PROGRAM = """
import re, sys
from pathlib import Path
from fermwatch.report.table_files import TableForm, write
from fermwatch.report.tables import TABLES, Scope, rows_of, Scope, rows_of
from tests.support.stores import open_reader
table = next(one for one in TABLES if one.name == "readings")
with open_reader(Path(sys.argv[1]), "home") as reader, open("/dev/null", "w") as out:
    print(write(TableForm.CSV, out, table.columns, rows_of(table, reader, Scope())))
print(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1])
"""


def _taken(directory: Path) -> tuple[int, int]:
    """Rows that were exported, and the most memory that it took, KiB."""
    done = subprocess.run([sys.executable, "-c", PROGRAM, str(directory)], capture_output=True, text=True, check=True)
    rows, kib = done.stdout.split()
    return int(rows), int(kib)


def test_many_readings_take_no_more_memory_than_few(tmp_path: Path, site: CommandLine) -> None:
    few, at_first = _taken(site.directory)
    minutes = 200_000
    site.hear("left-float", {NOW - timedelta(minutes=minute): 1.02 + minute % 64 / 1e4 for minute in range(minutes)})
    many, later = _taken(site.directory)
    assert many == few + minutes
    assert later < at_first + 8 * 1024, "all at once they would be some 40 MB"
