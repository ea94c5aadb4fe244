"""What a source or a controller with the driver "serial-controller" may say in the configuration."""

from typing import Annotated, Self

from pydantic import Field, PrivateAttr, StringConstraints, model_validator

from fermwatch.contracts.controller import Abilities
from fermwatch.model.degree import Output
from fermwatch_drivers.abilities import abilities_of
from fermwatch_drivers.read_source import ChannelledOptions
from fermwatch_drivers.serial_line.options import PortOptions
from fermwatch_drivers.serial_line.templates import Template, parse_template

MEASURED, SET_POINT, LEASE, DEAD_MAN, ID = "measured", "set-point", "lease", "dead-man", "id"
_OUTPUTS = frozenset(output.value for output in Output)
_OF_STATE = {MEASURED, SET_POINT, DEAD_MAN, ID, *_OUTPUTS}

AlarmBit = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9-]{0,30}$")]


class SerialControllerOptions(PortOptions, ChannelledOptions):
    """A controller that is asked by lines of text, and answers each by one."""

    model_config = PortOptions.model_config | {"allow_inf_nan": False}

    ask: str = Field(description='What is written to have its state: "state {id}"; {id} is a number that it repeats.')
    state: str = Field(
        description='Its answer: "state {id} t={measured} sp={set-point} cool={cool} heat={heat}", in °C, outputs as '
        "0 or 1 or on or off; also {dead-man} in seconds, and its alarms."
    )
    alarms: tuple[AlarmBit, ...] = Field(default=(), description="The names in state that are alarms, 0 or 1 each.")
    broken: tuple[str, ...] = Field(default=(), description='The words for {measured} of a broken probe: "nan".')
    low_c: float = Field(default=-40.0, description="The least that its probe can measure.")
    high_c: float = Field(default=110.0, description="The most that its probe can measure.")
    write: str | None = Field(default=None, description='What writes a set point: "set {set-point} {id}".')
    switch: str | None = Field(
        default=None,
        description='What switches outputs, all of them at once: "out {cool} {heat} {lease} {id}", {lease} in seconds.',
    )
    done: str = Field(default="ok {id}", description="Its answer to an order that it took.")
    refused: str = Field(default="no {id}", description="Its answer to an order that it will never take.")
    set_point_low_c: float | None = Field(default=None, description="The least set point that it takes.")
    set_point_high_c: float | None = Field(default=None, description="The highest set point that it takes.")
    step_c: float = Field(default=0.1, gt=0.0, le=5.0, description="To what it rounds its set point.")
    memory_writes: int | None = Field(
        default=None, ge=0, description="How many set points its memory endures; 0 where it keeps none over a restart."
    )
    longest_lease_s: int | None = Field(default=None, ge=5, le=3600, description="The most that {lease} may be.")
    dead_man_s: float | None = Field(
        default=None, gt=0.0, le=3600.0, description="To what its own {dead-man} is meant to be set."
    )
    every_s: float = Field(default=30.0, ge=0.1, le=3600.0, description="Seconds from one reading to the next.")
    answer_limit_s: float = Field(
        default=2.0, ge=0.05, le=30.0, description="Seconds that the board has to answer a line."
    )

    _templates: dict[str, Template] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        for key in ("ask", "state", "write", "switch", "done", "refused"):
            text = getattr(self, key)
            if text is not None:
                self._templates[key] = _template(key, text)
        self._allow("ask", {ID})
        self._allow("state", {*_OF_STATE, *self.alarms})
        for key in ("done", "refused"):
            self._allow(key, {ID})
        self._check_order("write", {SET_POINT, ID}, {SET_POINT})
        self._check_order("switch", {*_OUTPUTS, LEASE, ID}, set(self.switches))
        if self.write is not None and None in (self.set_point_low_c, self.set_point_high_c, self.memory_writes):
            raise ValueError("write needs set_point_low_c, set_point_high_c and memory_writes")
        if self.write is not None and not (self.set_point_low_c or 0.0) < (self.set_point_high_c or 0.0):
            raise ValueError("set_point_low_c must be less than set_point_high_c")
        if (LEASE in self._names("switch")) != (self.longest_lease_s is not None):
            raise ValueError("{lease} in switch and longest_lease_s belong together")
        if (DEAD_MAN in self._names("state")) != (self.dead_man_s is not None):
            raise ValueError("{dead-man} in state and dead_man_s belong together")
        if 0.0 < self.silence_timeout_s < 2.0 * self.every_s:
            raise ValueError("silence_timeout_s is at least twice every_s, or 0: a board that is not asked is silent")
        return self

    def template(self, key: str) -> Template:
        """What `ask`, `state`, `write`, `switch`, `done` or `refused` says. KeyError where it is not said."""
        return self._templates[key]

    @property
    def shows(self) -> frozenset[Output]:
        """The outputs that its state shows."""
        return frozenset(output for output in Output if output in self._names("state"))

    @property
    def switches(self) -> frozenset[Output]:
        return frozenset(output for output in Output if output in self._names("switch"))

    @property
    def channels(self) -> tuple[str, ...]:
        """The names under which its values are readings."""
        return tuple(
            name for name in (MEASURED, SET_POINT, *sorted(_OUTPUTS), *self.alarms) if name in self._names("state")
        )

    @property
    def abilities(self) -> Abilities:
        return abilities_of(self, writes=self.write is not None)

    def _names(self, key: str) -> tuple[str, ...]:
        return self._templates[key].names if key in self._templates else ()

    def _allow(self, key: str, names: set[str]) -> None:
        odd = [name for name in self._names(key) if name not in names]
        if odd:
            raise ValueError(f"{key}: {{{odd[0]}}} means nothing here; there are {', '.join(sorted(names))}")

    def _check_order(self, key: str, names: set[str], shown: set[str]) -> None:
        """That it names what is meant, and that this can be read back."""
        if key not in self._templates:
            return
        self._allow(key, names)
        if not shown:
            raise ValueError(f"{key}: it names nothing that it would change")
        unseen = [name for name in sorted(shown) if name not in self._names("state")]
        if unseen:
            raise ValueError(f"state: {{{unseen[0]}}} is missing: what is written must be read back")
        if key == "write" and SET_POINT not in self._names(key):
            raise ValueError("write: {set-point} is missing")


def _template(key: str, text: str) -> Template:
    try:
        return parse_template(text)
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from None
