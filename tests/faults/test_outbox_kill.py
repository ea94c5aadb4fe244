"""kill -9 between a change and its consumer: every change is told, in order, and under one number each."""

import subprocess
import sys
from pathlib import Path

from tests.support.samples import NOW
from tests.support.stores import open_writer

KILLS = 8

# Commits changes for ever, and consumes them as one that must not miss any: done first, then said to be taken.
PROGRAM = """
import sys
from pathlib import Path
from fermwatch.contracts.outbox import Change, ChangeKind
from tests.support.samples import NOW
from tests.support.stores import open_writer
writer = open_writer(Path(sys.argv[1]), "home", NOW)
writer.subscribe("bell")
count = int(sys.argv[2])
while True:
    writer.save_alarms([], [], [Change(NOW, ChangeKind.ALARM, "vessel:left", {"count": str(count)})])
    print("committed", count, flush=True)
    count += 1
    for notice in writer.outstanding("bell", 1 if count % 3 else 9):
        print("told", notice.number, notice.change.what["count"], flush=True)
        writer.taken("bell", notice.number)
"""


def test_killed_between_commit_and_consume_nothing_is_lost_and_nothing_is_told_under_two_numbers(
    tmp_path: Path,
) -> None:
    told: dict[int, int] = {}
    count = 0
    for kill in range(KILLS):
        command = [sys.executable, "-c", PROGRAM, str(tmp_path), str(count)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(5 + kill * 7 % 20)]
        process.kill()
        lines += process.stdout.readlines()
        process.stdout.close()
        process.wait(timeout=60)
        for line in lines:
            word, *numbers = line.split()
            if word == "told" and len(numbers) == 2:
                number, said = (int(one) for one in numbers)
                assert told.setdefault(number, said) == said, "one number is one change"
            elif word == "committed":
                count = max(count, int(numbers[0]) + 1)
        with open_writer(tmp_path, "home", NOW) as writer:
            waiting = {one.number: int(one.change.what["count"]) for one in writer.outstanding("bell")}
        assert all(told.get(number, said) == said for number, said in waiting.items())
        count = max([count, *(said + 1 for said in waiting.values())])
    known = sorted({**told, **waiting}.items())
    assert [said for _, said in known] == list(range(count)), "none is lost, and none has two numbers"
