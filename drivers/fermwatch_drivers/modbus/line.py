"""What every Modbus wire is to those who ask on it, be it a network or a serial line."""

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from typing import Protocol

from fermwatch.contracts.wire import NoAnswerInTime
from fermwatch_drivers.modbus.frames import Question


@dataclass(frozen=True, slots=True)
class Addressed:
    """A question to one of the devices on a wire."""

    device_id: int
    question: Question


class NoAnswer(NoAnswerInTime):
    """A device that did not answer one question in time; the wire may be as good as ever."""

    def __init__(self, asked: Addressed, place: str, limit_s: float) -> None:
        super().__init__(
            f"No answer of device {asked.device_id} at {place} within {limit_s:g} s ({asked.question}).",
            hint="Is it on, and are device_id and the register map right?",
        )


class Line(Protocol):
    """An open wire."""

    met: set[object]  # the users who know that the device is what they take it for, while this wire is open

    async def ask(self, asked: Addressed, *, limit_s: float, wanted: Callable[[], bool] = ...) -> tuple[int, ...]:
        """The registers or bits that were asked for; none of a write that was taken.

        One question at a time. limit_s: from when it is sent. wanted: asked when its turn has come, at the instant of
        sending. Raises NoLongerWanted where that is not so; NoAnswer; ProbeUnavailable where the wire is lost;
        ProbeMisbehaving for what is no answer to this; ModbusException where the device says one.
        """


class ModbusWire(Protocol):
    """A place that Modbus devices are asked at."""

    @property
    def place(self) -> str:
        """Clean, and fit for a sentence."""

    def used(self) -> AbstractAsyncContextManager[Line]:
        """The wire, open. Raises ProbeError where it cannot be had."""
