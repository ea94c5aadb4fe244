"""The invented controller as a board on a serial port that answers lines of text."""

import asyncio
import os
from collections.abc import Callable, Sequence

from fermwatch.model.degree import Output
from fermwatch_sim.virtual_controller import BITS, SET_POINT_AT, WISH_AT, VirtualController

# What a configuration says of it: questions, and the answers' shape.
ASK = "state {id}"
STATE = (
    "state {id} t={measured} sp={set-point} cool={cool} heat={heat} alarms={probe-broken},{door-open},{outputs-dropped}"
)
WRITE, SWITCH, DONE, REFUSED = "set {set-point} {id}", "out {cool} {heat} {lease} {id}", "ok {id}", "no {id}"
BROKEN = "nan"


class LineFace:
    """Speaks on a descriptor, as the far end of a pseudo-terminal, while it is opened on the running loop."""

    def __init__(self, controller: VirtualController, clock_s: Callable[[], float]) -> None:
        self.controller = controller
        self._clock_s = clock_s
        self._end: int | None = None
        self._heard = b""

    def open(self, end: int) -> None:
        self._end, self._heard = end, b""
        asyncio.get_running_loop().add_reader(end, self._hear, end)

    def close(self) -> None:
        if self._end is not None:
            asyncio.get_running_loop().remove_reader(self._end)
            self._end = None

    def answer(self, line: str) -> str:
        """What it says to one line; nothing to what it does not understand."""
        match line.split():
            case ["state", number]:
                return self._state(number)
            case ["set", celsius, number]:
                return self._done(SET_POINT_AT, [round(float(celsius) * 10) & 0xFFFF], number)
            case ["out", cool, heat, lease_s, number]:
                wish = int(cool) * BITS[Output.COOL] + int(heat) * BITS[Output.HEAT]
                return self._done(WISH_AT, [wish, int(lease_s)], number)
        return ""

    def _state(self, number: str) -> str:
        now_s, device = self._clock_s(), self.controller
        on = device.on(now_s)
        measured = BROKEN if device.probe_broken else f"{device.measured_c:.1f}"
        alarms = ",".join(str(int(bit)) for bit in device.discrete_inputs(now_s))
        return (
            f"state {number} t={measured} sp={device.set_point_c:.1f} "
            f"cool={int(Output.COOL in on)} heat={int(Output.HEAT in on)} alarms={alarms}"
        )

    def _done(self, address: int, words: Sequence[int], number: str) -> str:
        complaint = self.controller.write(address, words, self._clock_s())
        return f"no {number}" if complaint is not None else f"ok {number}"

    def _hear(self, end: int) -> None:
        try:
            self._heard += os.read(end, 512)
        except OSError:  # nobody has the port open now: look again in a while
            loop = asyncio.get_running_loop()
            loop.remove_reader(end)
            loop.call_later(0.01, self._listen_again, end)
            return
        *lines, self._heard = self._heard.split(b"\n")
        for line in lines:
            said = self.answer(line.decode("ascii", "replace").strip())
            if said:
                os.write(end, said.encode() + b"\n")

    def _listen_again(self, end: int) -> None:
        if self._end == end:
            asyncio.get_running_loop().add_reader(end, self._hear, end)
