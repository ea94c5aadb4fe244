"""What the registers of a controller mean, as a file in TOML says it: checked before anything is asked.

A map says nothing of one installation: where the device is, and under which number, is said by the source.
"""

import tomllib
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError, model_validator

from fermwatch.errors import ConfigError
from fermwatch.files import read_short
from fermwatch.model.degree import Output
from fermwatch.model.quantity import Unit
from fermwatch.text import clean
from fermwatch_drivers.modbus.frames import Function, Read

_LARGEST_FILE = 64 * 1024  # bytes
_SUFFIX = ".toml"
_MAPS = "maps"

NumberType = Literal["int16", "uint16", "int32", "uint32", "float32"]
Address = Annotated[int, Field(ge=0, le=65_535)]
AlarmName = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9-]{0,30}$")]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class NumberPlace(_Part):
    """Where a number stands, and how it is written there: what it means is `number x scale`."""

    function: Function = Field(description='The table that it stands in: "input" or "holding".')
    address: Address = Field(description="The register's address as it is sent, counted from 0: a manual's 40001 is 0.")
    type: NumberType = Field(
        default="int16", description='How it is written: "int16", "uint16", "int32", "uint32" or "float32".'
    )
    scale: float = Field(default=1.0, description="What one step of it is worth: 0.1 where 18.5 is written as 185.")

    @model_validator(mode="after")
    def _is_a_number(self) -> Self:
        if self.function.is_bits:
            raise ValueError('a number stands in registers: function is "input" or "holding"')
        if self.scale == 0.0:
            raise ValueError("a scale of 0 makes every number 0")
        if self.address + self.registers > 65_536:
            raise ValueError("its second register would be beyond address 65535")
        return self

    @property
    def registers(self) -> int:
        return 2 if self.type.endswith("32") else 1

    @property
    def read(self) -> Read:
        return Read(self.function, self.address, self.registers)


class TemperaturePlace(NumberPlace):
    """A temperature in the map's unit."""

    low: float = Field(description="The least that can be true, in the map's unit: what is below was not measured.")
    high: float = Field(description="The most that can be true, in the map's unit.")
    broken: tuple[float, ...] = Field(
        default=(), description="The numbers, as they are written, that say that a probe is broken or missing."
    )

    @model_validator(mode="after")
    def _rises(self) -> Self:
        if not self.low < self.high:
            raise ValueError("low must be less than high")
        return self


class SetPointPlace(TemperaturePlace):
    """The set point: read, and written too where the map says so and a person armed it."""

    written: bool = Field(default=False, description="Whether it may be written, within low and high.")
    step: float | None = Field(default=None, gt=0.0, description="To what it rounds, in the map's unit.")
    memory_writes: int | None = Field(
        default=None,
        ge=0,
        description="How many writes its memory endures, as its manual says; 0 where none wears out.",
    )

    @model_validator(mode="after")
    def _can_be_written(self) -> Self:
        told = self.step is not None and self.memory_writes is not None
        if self.written and not told:
            raise ValueError("one that is written needs step and memory_writes")
        if self.written and self.function is not Function.HOLDING:
            raise ValueError('one that is written stands in function = "holding"')
        if not self.written and (self.step is not None or self.memory_writes is not None):
            raise ValueError("step and memory_writes have no effect without written = true")
        return self


class BitPlace(_Part):
    """Where something that is on or off stands."""

    function: Function = Field(description='The table that it stands in: "coil", "discrete", "holding" or "input".')
    address: Address = Field(description="The address as it is sent, counted from 0.")
    bit: int | None = Field(default=None, ge=0, le=15, description="Which bit of a register, 0 being the lowest.")
    inverted: bool = Field(default=False, description="Whether 0 means on.")

    @model_validator(mode="after")
    def _has_a_bit(self) -> Self:
        if self.function.is_bits and self.bit is not None:
            raise ValueError(f"a {self.function} is one bit already: leave bit out")
        if not self.function.is_bits and self.bit is None:
            raise ValueError(f"bit is missing: a register of the table {self.function} has sixteen")
        return self

    @property
    def read(self) -> Read:
        return Read(self.function, self.address, 1)


class ProfilePlace(NumberPlace):
    """The number by which a device of this kind is known."""

    expected: tuple[float, ...] = Field(
        min_length=1, description="The numbers that it may show; with any other, nothing else is asked of the device."
    )


class SwitchingPlace(_Part):
    """Where outputs are switched: all of them at once, so that no order is half done."""

    function: Literal[Function.HOLDING, Function.COIL] = Field(
        description='"holding", with a bit for each output, or "coil", with one for each from the address on.'
    )
    address: Address = Field(description="The address as it is sent, counted from 0.")
    bits: dict[Output, Annotated[int, Field(ge=0, le=15)]] = Field(
        min_length=1, description="Each output's bit in the register, or its coil counted from the address: cool = 0."
    )
    longest_lease_s: int | None = Field(
        default=None,
        ge=5,
        le=3600,
        description="Where the register behind holds for how many seconds they stay on unless it is written again: the "
        "most that it takes.",
    )

    @model_validator(mode="after")
    def _is_one_write(self) -> Self:
        places = sorted(self.bits.values())
        if len(set(places)) < len(places):
            raise ValueError("two outputs have the same bit")
        if self.function is Function.COIL and places != list(range(len(places))):
            raise ValueError(
                "coils that are switched at once follow each other, from the address on: cool = 0, heat = 1"
            )
        if self.function is Function.COIL and self.longest_lease_s is not None:
            raise ValueError('a lease is told in a register: it needs function = "holding"')
        return self


class DeadManPlace(NumberPlace):
    """The device's own time, in seconds, after which it drops its outputs when nobody writes to it."""

    usual_s: float = Field(gt=0.0, le=3600.0, description="What it is meant to be set to; what it shows counts.")


class RegisterMap(_Part):
    """One kind of controller."""

    title: Annotated[str, StringConstraints(min_length=1, max_length=60, strip_whitespace=True)] = Field(
        description="What the controller is, for the health screen."
    )
    unit: Literal[Unit.CELSIUS, Unit.FAHRENHEIT] = Field(
        default=Unit.CELSIUS, description='The unit of all its temperatures: "°C" or "°F".'
    )
    word_order: Literal["high-first", "low-first"] = Field(
        default="high-first", description='Which register of a number of two comes first: "high-first" or "low-first".'
    )
    profile: ProfilePlace | None = Field(default=None, description="The number by which the device is known.")
    measured: TemperaturePlace | None = Field(default=None, description="The measured value (process value).")
    set_point: SetPointPlace | None = Field(
        default=None, alias="set-point", description="The set point that it regulates to."
    )
    outputs: dict[Output, BitPlace] = Field(default={}, description="Where it shows that heat or cool is on.")
    switching: SwitchingPlace | None = Field(
        default=None, description="Where its outputs are switched, if they may be."
    )
    dead_man: DeadManPlace | None = Field(
        default=None, alias="dead-man", description="Where its own time to drop its outputs stands, if it is a setting."
    )
    alarms: dict[AlarmName, BitPlace] = Field(default={}, description="Its alarm bits, each by a name of yours.")

    @model_validator(mode="after")
    def _shows_something(self) -> Self:
        if self.measured is None and self.set_point is None and not self.outputs:
            raise ValueError("it shows nothing: say where measured, set-point or outputs stand")
        return self

    @model_validator(mode="after")
    def _shows_what_it_switches(self) -> Self:
        if self.switching is None:
            if self.dead_man is not None:
                raise ValueError("dead-man has no effect without switching")
            return self
        unseen = [output for output in self.switching.bits if output not in self.outputs]
        if unseen:
            raise ValueError(f"say where outputs.{unseen[0]} is shown: what is switched must be read back")
        if self.dead_man is not None and self.switching.longest_lease_s is not None:
            raise ValueError("the dead-man's time is either told with each order or a setting: say one of both")
        return self

    @property
    def channels(self) -> tuple[str, ...]:
        """The names under which its values are readings."""
        numbers = {"measured": self.measured, "set-point": self.set_point}
        return (*(name for name, place in numbers.items() if place is not None), *sorted(self.outputs), *self.alarms)


def shipped() -> tuple[str, ...]:
    """The names of the maps that come with the driver."""
    folder = resources.files(__package__) / _MAPS
    return tuple(sorted(one.name.removesuffix(_SUFFIX) for one in folder.iterdir() if one.name.endswith(_SUFFIX)))


def shipped_map(name: str) -> RegisterMap:
    """Raises ConfigError where none has that name."""
    if name not in shipped():
        raise ConfigError(
            f'map: none that ships is called "{clean(name)}".',
            hint=f"Shipped: {', '.join(shipped())}. One of your own is named by map_file.",
        )
    return parse((resources.files(__package__) / _MAPS / f"{name}{_SUFFIX}").read_text(encoding="utf-8"), Path(name))


def map_in(file: Path) -> RegisterMap:
    """The map that a file holds. Raises ConfigError, naming the file and the key, where it cannot be used."""
    try:
        text = read_short(file, _LARGEST_FILE).decode("utf-8")
    except UnicodeDecodeError:
        raise ConfigError("is not UTF-8 text.", file=file, hint="Save it as UTF-8.") from None
    except OSError as error:
        raise ConfigError(
            f"cannot be read: {clean(error.strerror or str(error))}.",
            file=file,
            hint="map_file names the file of a register map, best with its whole path.",
        ) from error
    return parse(text, file)


def parse(text: str, file: Path) -> RegisterMap:
    """Raises ConfigError."""
    try:
        said = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ConfigError(
            f"is not TOML: {clean(str(error))}.", file=file, hint="Mend the line that it names."
        ) from None
    try:
        return RegisterMap.model_validate(said)
    except ValidationError as error:
        raise _explained(error, file) from None


def _explained(error: ValidationError, file: Path) -> ConfigError:
    """The first mistake: its place, what is wrong with it, and what is meant to stand there."""
    first = error.errors()[0]
    said, given = first["msg"].removeprefix("Value error, ").replace("Input should", "must"), first.get("input")
    if isinstance(given, str | int | float) and first["type"] != "extra_forbidden":
        said = f"{said} (it says {clean(repr(given), 40)})"
    place = [str(part) for part in first["loc"] if part != "[key]"]
    hint = _remedy(place, unknown=first["type"] == "extra_forbidden")
    return ConfigError(f"{clean(said, 200)}.", file=file, key=clean(".".join(place), 80), hint=hint)


def _remedy(place: list[str], *, unknown: bool) -> str:
    """The sentence of the key that is wrong, or the keys that there are where none has its name."""
    model = _TABLES.get(place[0], RegisterMap) if len(place) > 1 else RegisterMap
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    if unknown:
        return f"Keys here: {', '.join(fields)}."
    field = fields.get(place[-1]) if place else None
    return (field.description or "") if field is not None else ""


_TABLES: dict[str, type[BaseModel]] = {
    "profile": ProfilePlace,
    "measured": TemperaturePlace,
    "set-point": SetPointPlace,
    "switching": SwitchingPlace,
    "dead-man": DeadManPlace,
    "outputs": BitPlace,
    "alarms": BitPlace,
}
