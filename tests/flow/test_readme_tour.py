"""What the tour prints is what the program prints. FERMWATCH_RECORD=1 writes it anew."""

import math
import re
import shlex
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.cli import main
from tests.dashboard.expected_text import RECORD
from tests.support.command_line import CommandLine, command_line

PAGE = Path(__file__).resolve().parents[2] / "docs" / "tour.md"
PITCHED = datetime(2026, 3, 1, 17, tzinfo=UTC)  # 18:00 in Vienna, where the tests' site is
IDENTITY = re.compile(r"\b[0-9A-HJKMNP-TV-Z]{26}\b")
NUMBER = re.compile(r"\d+(?:\.\d+)?")


def tour() -> dict[str, str]:
    """Command -> what the tour prints under it."""
    blocks = re.findall(r"```console\n\$ fermwatch (.*?)\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    return {command: shown for command, shown in blocks if "left" in command}


def afterwards() -> dict[str, str]:
    """The same of what is asked once it is packaged."""
    text = PAGE.read_text(encoding="utf-8")
    section = text[text.index("## In the bottle") :]
    return dict(re.findall(r"```console\n\$ fermwatch (.*?)\n(.*?)```", section, re.DOTALL))


def reckoned() -> list[tuple[str, str]]:
    return re.findall(r"^\| `fermwatch (calc [^`]*)` \| (.*) \|$", PAGE.read_text(encoding="utf-8"), re.MULTILINE)


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    monkeypatch.setenv("COLUMNS", "80")
    desk = command_line(tmp_path / "store", PITCHED, capsys)
    desk.hear_steady("left-beer", 23.4)  # the probe is calibrated by +0.5
    return desk


def ferments_until(desk: CommandLine, days: float) -> None:
    """Half-hourly readings from where the desk's clock stands; the beer ends at 1.0106."""
    start, now = desk.clock.now(), PITCHED + timedelta(days=days)
    desk.clock.advance((now - start).total_seconds())
    instants = [start + timedelta(minutes=30 * step) for step in range(1, int((now - start) / timedelta(minutes=30)))]
    ages = {at: (at - PITCHED) / timedelta(days=1) for at in instants}
    desk.hear("left-beer", dict.fromkeys(instants, 19.5))
    desk.hear("left-float", {at: 1.0106 + 0.0419 / (1 + math.exp((age - 2) * 2.5)) for at, age in ages.items()})


def check(command: str, shown: str, said: str) -> None:
    """The tour prints what was said, but for identities, which are made anew each time."""
    said = IDENTITY.sub("ID", said)
    if RECORD:
        for identity in IDENTITY.findall(shown):
            said = said.replace("ID", identity, 1)
        text = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(
            text.replace(f"$ fermwatch {command}\n{shown}", f"$ fermwatch {command}\n{said}"), encoding="utf-8"
        )
    else:
        assert said == IDENTITY.sub("ID", shown), command


def test_the_tour_reads_as_printed(desk: CommandLine) -> None:
    """On day 12 the reading; half a day later it has stood long enough, and is packaged."""
    printed = tour()
    happens = dict(zip(printed, (0, 5, 12, 12.5), strict=True))
    for command, shown in printed.items():
        if happens[command]:
            ferments_until(desk, happens[command])
        said = desk.done(*shlex.split(command)).text
        check(command, shown, said[: said.index("Kept in the inbox")].rstrip() + "\n")
    ferments_until(desk, 17.0)  # the float lies in the sink
    for command, shown in afterwards().items():
        check(command, shown, desk.type(*shlex.split(command)).text)


@pytest.mark.parametrize(("command", "answer"), reckoned())
def test_what_is_reckoned_answers_as_the_table_says(
    command: str, answer: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(shlex.split(command)) == 0
    shown = NUMBER.findall(capsys.readouterr().out)
    assert [number for number in NUMBER.findall(answer.replace("CO2", "")) if number not in shown] == []
