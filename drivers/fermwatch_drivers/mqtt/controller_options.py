"""What a source or a controller with the driver "mqtt-controller" may say in the configuration."""

from typing import Annotated, Self

from pydantic import Field, PrivateAttr, StringConstraints, model_validator

from fermwatch.contracts.controller import Abilities
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Unit
from fermwatch_drivers.abilities import abilities_of
from fermwatch_drivers.mqtt.command import Command, parse_command
from fermwatch_drivers.mqtt.options import BrokerOptions
from fermwatch_drivers.mqtt.state import (
    DEAD_MAN,
    ECHO,
    MEASURED,
    SET_POINT,
    StateMap,
    StatePlace,
    check_topic,
    parse_place,
)
from fermwatch_drivers.read_source import ChannelledOptions

ID, LEASE, EXPIRES = "id", "lease", "expires"
_OUTPUTS = frozenset(output.value for output in Output)
_MAY_NAME = {
    "ask": frozenset({ID}),
    "write": frozenset({SET_POINT, ID, EXPIRES}),
    "switch": _OUTPUTS | {LEASE, ID, EXPIRES},
}
_UNASKED_S = 5.0  # between two states of one that is written to and not asked: an order is decided on what is fresh
_TEMPERATURE_UNITS = (Unit.CELSIUS, Unit.FAHRENHEIT)

AlarmBit = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9-]{0,30}$")]


class MqttControllerOptions(BrokerOptions, ChannelledOptions):
    """A controller that publishes its state to a broker, and hears its orders there."""

    model_config = BrokerOptions.model_config | {"allow_inf_nan": False}

    measured: str | None = Field(
        default=None,
        description='Where its measured value stands: a topic, and behind "#" a JSON pointer where the payload is '
        'JSON, as "cellar/fridge/state#/beer".',
    )
    set_point: str | None = Field(default=None, description="Where its set point stands, in the same way.")
    cool: str | None = Field(
        default=None, description="Where it shows whether it cools: 0 or 1, on or off, or a truth."
    )
    heat: str | None = Field(default=None, description="Where it shows whether it heats, in the same way.")
    dead_man: str | None = Field(default=None, description="Where it shows its own dead-man's time, in seconds.")
    alarms: dict[AlarmBit, str] = Field(
        default_factory=dict, description="Where its alarms stand, by names of your own: 0 or 1, on or off, or a truth."
    )
    echo: str | None = Field(
        default=None,
        description="Where it repeats the {id} of what it heard last, of a question or of an order it took.",
    )
    unit: Unit = Field(default=Unit.CELSIUS, description='The unit of its temperatures: "°C" or "°F".')
    broken: tuple[str, ...] = Field(
        default=("null",),
        description='What it says for its measured value when its probe is broken; "null" is JSON\'s.',
    )
    low_c: float = Field(default=-40.0, description="The least that its probe can measure.")
    high_c: float = Field(default=110.0, description="The most that its probe can measure.")
    ask_topic: str | None = Field(default=None, description="The topic that has it say its state at once.")
    ask_payload: str = Field(default="{id}", description="What is published there; {id} is a number that echo repeats.")
    write_topic: str | None = Field(default=None, description="The topic that sets its set point.")
    write_payload: str = Field(
        default="{set-point}",
        description='What is published there, as "{set-point}" or \'{"target": {set-point}, "id": {id}}\'; {expires} '
        "is for how many seconds it is meant.",
    )
    switch_topic: str | None = Field(default=None, description="The topic that switches its outputs.")
    switch_payload: str | None = Field(
        default=None,
        description='What is published there, for all outputs at once, as \'{"cool": {cool}, "heat": {heat}, '
        '"lease_s": {lease}, "id": {id}}\'; {lease} in seconds.',
    )
    on: str = Field(default="1", min_length=1, max_length=30, description="What stands for an output that is to be on.")
    off: str = Field(default="0", min_length=1, max_length=30, description="What stands for one that is to be off.")
    set_point_low_c: float | None = Field(default=None, description="The least set point that it takes.")
    set_point_high_c: float | None = Field(default=None, description="The highest set point that it takes.")
    step_c: float = Field(default=0.1, gt=0.0, le=5.0, description="To what it rounds its set point.")
    memory_writes: int | None = Field(
        default=None, ge=0, description="How many set points its memory endures; 0 where it keeps none over a restart."
    )
    longest_lease_s: int | None = Field(default=None, ge=5, le=3600, description="The most that {lease} may be.")
    dead_man_s: float | None = Field(
        default=None, gt=0.0, le=3600.0, description="To what its own dead_man is meant to be set."
    )
    every_s: float = Field(
        default=30.0,
        ge=0.1,
        le=3600.0,
        description="Seconds from one reading to the next: how often it is asked, or says its state by itself.",
    )
    answer_limit_s: float = Field(
        default=3.0,
        ge=0.05,
        le=8.0,
        description="Seconds that the broker, and the controller behind it, have to answer.",
    )

    _places: dict[str, StatePlace] = PrivateAttr(default_factory=dict)
    _commands: dict[str, Command] = PrivateAttr(default_factory=dict)

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.unit not in _TEMPERATURE_UNITS:
            raise ValueError('unit: "°C" or "°F"')
        self._read_places()
        for key in _MAY_NAME:
            self._read_command(key)
        self._check_order("write", self._names("write"), {SET_POINT})
        self._check_order("switch", self._names("switch") & _OUTPUTS, self._names("switch") & _OUTPUTS)
        self._check_abilities()
        self._check_ways()
        return self

    @property
    def state(self) -> StateMap:
        """Where its values stand."""
        return StateMap(self._places, tuple(self.alarms), self.unit, self.broken, self.low_c, self.high_c)

    def command(self, key: str) -> Command | None:
        """What `ask`, `write` or `switch` publishes; None where it has no topic."""
        return self._commands.get(key)

    @property
    def switches(self) -> frozenset[Output]:
        return frozenset(output for output in Output if output.value in self._names("switch"))

    @property
    def channels(self) -> tuple[str, ...]:
        """See `fermwatch_drivers.read_source.ChannelledOptions`."""
        return tuple(name for name in (MEASURED, SET_POINT, *sorted(_OUTPUTS), *self.alarms) if name in self._places)

    @property
    def abilities(self) -> Abilities:
        return abilities_of(self, writes=self.write_topic is not None)

    def _read_places(self) -> None:
        said = {
            MEASURED: ("measured", self.measured),
            SET_POINT: ("set_point", self.set_point),
            Output.COOL.value: ("cool", self.cool),
            Output.HEAT.value: ("heat", self.heat),
            DEAD_MAN: ("dead_man", self.dead_man),
            ECHO: ("echo", self.echo),
            **{name: (f"alarms.{name}", text) for name, text in self.alarms.items()},
        }
        if odd := set(self.alarms) & {MEASURED, SET_POINT, DEAD_MAN, ECHO, *_OUTPUTS}:
            raise ValueError(f"alarms: {min(odd)} is the name of something else")
        for name, (key, text) in said.items():
            if text is not None:
                try:
                    self._places[name] = parse_place(text)
                except ValueError as error:
                    raise ValueError(f"{key}: {error}") from None
        if not self.channels:
            raise ValueError("say at least where one of measured, set_point, cool and heat stands")
        topics = {place.topic for place in self._places.values()}
        if self.echo is not None and len(topics) > 1:
            raise ValueError("echo: it stands in the one topic in which all else stands, or proves nothing of the rest")

    def _read_command(self, key: str) -> None:
        topic, payload = getattr(self, f"{key}_topic"), getattr(self, f"{key}_payload")
        if topic is None:
            if f"{key}_payload" in self.model_fields_set:
                raise ValueError(f"{key}_payload needs {key}_topic")
            return
        if payload is None:
            raise ValueError(f"{key}_topic needs {key}_payload")
        try:
            check_topic(topic)
        except ValueError as error:
            raise ValueError(f"{key}_topic: {error}") from None
        if topic in {place.topic for place in self._places.values()}:
            raise ValueError(f"{key}_topic: its state stands in that topic, where our own words would be taken for it")
        try:
            command = parse_command(payload)
        except ValueError as error:
            raise ValueError(f"{key}_payload: {error}") from None
        odd = sorted(command.names - _MAY_NAME[key])
        if odd:
            there_are = ", ".join(sorted(_MAY_NAME[key]))
            raise ValueError(f"{key}_payload: {{{odd[0]}}} means nothing here; there are {there_are}")
        self._commands[key] = command

    def _names(self, key: str) -> frozenset[str]:
        return self._commands[key].names if key in self._commands else frozenset()

    def _check_order(self, key: str, names: frozenset[str], shown: set[str] | frozenset[str]) -> None:
        """That it names what is meant, and that this can be read back."""
        if key not in self._commands:
            return
        if not names & (shown or _OUTPUTS):
            what = "{set-point} is missing" if key == "write" else "it names no output"
            raise ValueError(f"{key}_payload: {what}")
        unseen = [name for name in sorted(shown) if name not in self._places]
        if unseen:
            raise ValueError(f"{unseen[0].replace('-', '_')} is missing: what is ordered must be read back")

    def _check_abilities(self) -> None:
        if self.write_topic is not None:
            if None in (self.set_point_low_c, self.set_point_high_c, self.memory_writes):
                raise ValueError("write_topic needs set_point_low_c, set_point_high_c and memory_writes")
            if not (self.set_point_low_c or 0.0) < (self.set_point_high_c or 0.0):
                raise ValueError("set_point_low_c must be less than set_point_high_c")
        if not self.low_c < self.high_c:
            raise ValueError("low_c must be less than high_c")
        if (LEASE in self._names("switch")) != (self.longest_lease_s is not None):
            raise ValueError("{lease} in switch_payload and longest_lease_s belong together")
        if (DEAD_MAN in self._places) != (self.dead_man_s is not None):
            raise ValueError("dead_man and dead_man_s belong together")

    def _check_ways(self) -> None:
        """That what is ordered rests on what is fresh."""
        if self.echo is not None and ID not in self._names("ask") | self._names("write") | self._names("switch"):
            raise ValueError("echo: nothing that is published has an {id}")
        ordered = self.write_topic is not None or self.switch_topic is not None
        if ordered and self.ask_topic is None and self.every_s > _UNASKED_S:
            raise ValueError(
                f"every_s: what is ordered rests on a state that is fresh, so it must say it at least every "
                f"{_UNASKED_S:g} s, or be asked for it (ask_topic)"
            )
