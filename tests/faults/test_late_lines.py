"""A board that answers late, never, or to something else: no answer is taken for another question's."""

import asyncio
import os
import random
from collections import Counter
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fermwatch.clock import ManualClock, SystemClock
from fermwatch.contracts.controller import Order, OrderResult, SetPoint
from fermwatch.contracts.wire import NoAnswerInTime, NoLongerWanted, Wires
from fermwatch.errors import ProbeError
from fermwatch_drivers.serial_line.controller_kind import CONTROLLER
from fermwatch_drivers.serial_line.wire import serial_wire
from tests.conformance.wires import Board

BOARDS, TURNS, LIMIT_S = 40, 40, 0.06
ID = {
    True: {"ask": "state {id}", "write": "set {set-point} {id}", "done": "ok {id}", "refused": "no {id}"},
    False: {"ask": "state", "write": "set {set-point}", "done": "ok", "refused": "no"},
}
STATE = {True: "state {id} t={measured} sp={set-point}", False: "t={measured} sp={set-point}"}


class Moody:
    """Says in each state the how manieth question that was: an older answer would show."""

    def __init__(self, board: Board, chance: random.Random) -> None:
        self._board, self._chance = board, chance
        self.asked = 0
        self.set_points: list[float] = []
        self.moods: Counter[str] = Counter()
        self._heard = b""
        asyncio.get_running_loop().add_reader(board.end, self._hear)

    def close(self) -> None:
        asyncio.get_running_loop().remove_reader(self._board.end)
        self._board.unplug()

    def _hear(self) -> None:
        self._heard += os.read(self._board.end, 512)
        *lines, self._heard = self._heard.split(b"\n")
        for line in lines:
            self._answer(line.decode())

    def _answer(self, line: str) -> None:
        word, *rest = line.split()
        mood = self._chance.choices(["well", "late", "lost", "ignored", "noisy"], [6, 1, 1, 1, 1])[0]
        self.moods[mood] += 1
        if word == "state":
            self.asked += 1
            said = " ".join(["state", *rest]) + " " if rest else ""
            said += f"t={self.asked / 100:.2f} sp={self.set_points[-1] if self.set_points else 0:g}"
        elif mood == "ignored":
            return
        else:
            self.set_points.append(float(rest[0]))
            said = " ".join(["ok", *rest[1:]])
        if mood in {"well", "noisy"}:
            noise = "t=\nstate x t=1 sp=2\n\x07\n" if mood == "noisy" else ""
            self._say(f"{noise}{said}\n")
        elif mood == "late":
            asyncio.get_running_loop().call_later(LIMIT_S * self._chance.uniform(1.1, 1.5), self._say, f"{said}\n")

    def _say(self, text: str) -> None:
        if self._board.is_plugged_in:
            os.write(self._board.end, text.encode())


@pytest.mark.parametrize("has_id", [True, False])
async def test_no_answer_is_taken_for_another_question_s(tmp_path: Path, has_id: bool) -> None:
    """Without a number to tell them by, as long as none is later than twice the limit."""
    limits = {"set_point_low_c": 0, "set_point_high_c": 100, "memory_writes": 0, "settle_s": 0}
    results: Counter[OrderResult] = Counter()
    moods: Counter[str] = Counter()

    async def work(number: int) -> None:
        board = Board(tmp_path / f"board{number}")
        board.plug_in()
        moody = Moody(board, random.Random(number))
        options = CONTROLLER.options.model_validate(
            {"port": str(board.link), **ID[has_id], "state": STATE[has_id], **limits, "answer_limit_s": LIMIT_S}
        )
        controller = CONTROLLER.create("board", options, SystemClock(), Wires())
        async with controller._wire.used():
            for turn in range(1, TURNS):
                with suppress(ProbeError):
                    seen = await controller.read()
                    assert seen.measured_c == moody.asked / 100, "of this question, and of none before"
                at = datetime.now(UTC)
                response = await controller.ask(Order("o", at, at + timedelta(minutes=1), SetPoint(turn)))
                results[response.result] += 1
                assert response.result is not OrderResult.TAKEN or turn in moody.set_points
        moods.update(moody.moods)
        moody.close()

    await asyncio.gather(*(work(number) for number in range(BOARDS)))
    assert set(moods) == {"well", "late", "lost", "ignored", "noisy"}
    assert set(results) == {OrderResult.TAKEN, OrderResult.UNANSWERED}


async def test_who_waits_for_a_turn_until_it_is_too_late_is_not_sent(tmp_path: Path) -> None:
    board = Board(tmp_path / "board")
    board.plug_in()
    heard: list[bytes] = []
    asyncio.get_running_loop().add_reader(board.end, lambda: heard.append(os.read(board.end, 512)))
    options = CONTROLLER.options.model_validate(
        {"port": str(board.link), "ask": "read", "state": "t={measured}", "settle_s": 0}
    )
    clock = ManualClock(datetime(2026, 3, 1, tzinfo=UTC))
    async with serial_wire("one", options, SystemClock(), Wires()).used() as line:
        first = asyncio.create_task(line.ask(b"first", lambda _: False, limit_s=0.2))
        await asyncio.sleep(0.01)
        second = asyncio.create_task(
            line.ask(b"second", lambda _: True, limit_s=0.2, wanted=lambda: clock.elapsed_s < 1.0)
        )
        clock.advance(600.0)
        with pytest.raises(NoAnswerInTime):
            await first
        with pytest.raises(NoLongerWanted):
            await second
    assert b"".join(heard) == b"first\n"
    asyncio.get_running_loop().remove_reader(board.end)
    board.unplug()
