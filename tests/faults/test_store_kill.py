"""kill -9 of the process that writes: whatever was said to be stored is stored, and nothing is half there."""

import sqlite3
import subprocess
import sys
from pathlib import Path

from tests.support.samples import NOW
from tests.support.stores import open_writer

KILLS = 20

# Appends batches of 7 for ever, and says each batch's number once `append` has returned.
PROGRAM = """
import sys
from pathlib import Path
from fermwatch.model.reading import Reading
from tests.support.stores import open_writer
from tests.support.samples import NOW, NOW_MS, PROBES, VESSELS
writer = open_writer(Path(sys.argv[1]), "home", NOW)
writer.declare("UTC", VESSELS, PROBES, NOW)
number = int(sys.argv[2])
while True:
    numbers = range(number * 7, number * 7 + 7)
    rows = [Reading(1 + n % 3, NOW_MS + n * 10_000, float(number), sequence=n) for n in numbers]
    writer.append(rows)
    print(number, flush=True)
    number += 1
"""


def write_until_killed(directory: Path, number: int, batches: int) -> int:
    """Kill the writer somewhere after so many batches; the last number that it had said."""
    process = subprocess.Popen([sys.executable, "-c", PROGRAM, str(directory), str(number)], stdout=subprocess.PIPE)
    assert process.stdout is not None
    for _ in range(batches):
        assert process.stdout.readline(), "the writer stopped by itself"
    process.kill()
    said = process.stdout.read().split()
    process.stdout.close()
    assert process.wait(timeout=60) == -9
    return int(said[-1]) if said else number + batches - 1


def test_killed_twenty_times_nothing_said_to_be_stored_is_lost(tmp_path: Path) -> None:
    number = 0
    for kill in range(KILLS):
        last = write_until_killed(tmp_path, number, batches=1 + kill * 3 % 25)
        with open_writer(tmp_path, "home", NOW):
            pass
        connection = sqlite3.connect(tmp_path / "home.db")
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        counts = dict(connection.execute("SELECT sequence / 7, count(*) FROM reading GROUP BY sequence / 7").fetchall())
        connection.close()
        assert set(range(last + 1)) <= set(counts)
        assert set(counts.values()) == {7}, "a batch is stored whole or not at all"
        number = max(counts) + 1
