"""An invented two-output controller: what its registers hold, what it does when they are written, and its dead-man.

Time is handed in, in seconds of one clock that is never set. The registers are those of the map "worked-example", which
ships with the Modbus driver.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import IntEnum, StrEnum

from fermwatch.model.degree import Output
from fermwatch_sim.thermal import AirController, Compressor

PROFILE = 2611
PROBE_BROKEN = 32767  # in place of a temperature
LOWEST_C, HIGHEST_C = -5.0, 35.0  # what it takes as a set point
LONGEST_LEASE_S = 120
SET_POINT_AT, WISH_AT, LEASE_AT = 10, 20, 21  # holding registers; the last two are written at once
BITS: Mapping[Output, int] = {Output.COOL: 1, Output.HEAT: 2}

_TENTHS = 10
_BELT_DEADBAND_C = 0.2


class Mode(StrEnum):
    """Set on the device itself: no register changes it."""

    BY_ITSELF = "by-itself"  # it regulates to its set point
    BY_COMMAND = "by-command"  # its outputs are on as long as somebody leases them, and never otherwise


class Complaint(IntEnum):
    """Why it does not do what it is told: the protocol's exception codes."""

    ILLEGAL_ADDRESS = 2
    ILLEGAL_VALUE = 3


@dataclass(slots=True)
class VirtualController:
    """The device. switched: since when which outputs were on, oldest first. set_point_writes: of its memory.

    belt: whether one hangs on its heating output. leased_until_s: when it drops what is on by command. dropped: an
    alarm bit, until the next command.
    """

    mode: Mode = Mode.BY_ITSELF
    regulator: AirController = field(default_factory=lambda: AirController(18.0))
    measured_c: float = 18.0
    belt: bool = True
    probe_broken: bool = False
    door_open: bool = False
    dropped: bool = False
    set_point_writes: int = 0
    leased_until_s: float = 0.0
    switched: list[tuple[float, frozenset[Output]]] = field(default_factory=list)
    _compressor: Compressor = field(default_factory=Compressor)
    _command: tuple[int, int] = (0, 0)  # as WISH_AT and LEASE_AT hold it

    @property
    def set_point_c(self) -> float:
        return self.regulator.set_point_c

    def on(self, now_s: float) -> frozenset[Output]:
        """What is on; what nobody leased any longer is dropped by now, as of the instant when it was."""
        if self.mode is Mode.BY_COMMAND and self._last() and now_s >= self.leased_until_s:
            self.dropped = True
            self._switch(frozenset(), self.leased_until_s)
        return self._last()

    def step(self, now_s: float, *, air_c: float, beer_c: float, dt_s: float) -> frozenset[Output]:
        """Measure, regulate where that is its business, and say what is on from now on."""
        self.measured_c = beer_c
        if self.mode is Mode.BY_ITSELF:
            self._compressor = self.regulator.decide(self._compressor, air_c=air_c, beer_c=beer_c, dt_s=dt_s)
            self._switch(self._regulated(beer_c), now_s)
        return self.on(now_s)

    def input_registers(self, now_s: float) -> tuple[int, ...]:
        """Profile, measured value, outputs: from address 0."""
        measured = PROBE_BROKEN if self.probe_broken else round(self.measured_c * _TENTHS) & 0xFFFF
        return PROFILE, measured, sum(BITS[output] for output in self.on(now_s))

    def holding_registers(self) -> Mapping[int, int]:
        wish, lease_s = self._command
        return {SET_POINT_AT: round(self.set_point_c * _TENTHS) & 0xFFFF, WISH_AT: wish, LEASE_AT: lease_s}

    def discrete_inputs(self, now_s: float) -> tuple[bool, ...]:
        """Probe broken, door open, outputs dropped by the dead-man: from address 0."""
        self.on(now_s)
        return self.probe_broken, self.door_open, self.dropped

    def write(self, address: int, words: Sequence[int], now_s: float) -> Complaint | None:
        """Do what these holding registers say, all or nothing."""
        if address == SET_POINT_AT and len(words) == 1:
            return self._set(words[0])
        if address == WISH_AT and len(words) == 2:
            return self._lease(words[0], words[1], now_s)
        return Complaint.ILLEGAL_ADDRESS

    def _set(self, word: int) -> Complaint | None:
        celsius = (word - 0x10000 if word & 0x8000 else word) / _TENTHS
        if not LOWEST_C <= celsius <= HIGHEST_C:
            return Complaint.ILLEGAL_VALUE
        self.regulator = replace(self.regulator, set_point_c=celsius)
        self.set_point_writes += 1
        return None

    def _lease(self, wish: int, lease_s: int, now_s: float) -> Complaint | None:
        """Both outputs at once, a bit that means nothing, or too long a lease is refused whole."""
        known = wish in {0, *BITS.values()}
        if self.mode is not Mode.BY_COMMAND or not known or lease_s > LONGEST_LEASE_S:
            return Complaint.ILLEGAL_VALUE
        self.on(now_s)  # what was leased until before now
        self._command, self.dropped = (wish, lease_s), False
        self.leased_until_s = now_s + lease_s
        self._switch(frozenset(output for output, bit in BITS.items() if wish & bit), now_s)
        return None

    def _regulated(self, beer_c: float) -> frozenset[Output]:
        if self._compressor.running:
            return frozenset({Output.COOL})
        if not self.belt:
            return frozenset()
        heats = Output.HEAT in self._last()
        edge_c = self.set_point_c + (_BELT_DEADBAND_C if heats else -_BELT_DEADBAND_C)
        return frozenset({Output.HEAT}) if beer_c < edge_c else frozenset()

    def _last(self) -> frozenset[Output]:
        return self.switched[-1][1] if self.switched else frozenset()

    def _switch(self, on: frozenset[Output], at_s: float) -> None:
        if on != self._last():
            self.switched.append((at_s, on))
