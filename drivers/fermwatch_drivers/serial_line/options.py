"""What a source with the driver "serial-line" may say in the configuration."""

from enum import StrEnum
from typing import Self

from pydantic import BaseModel, ConfigDict, Field, model_validator


class Format(StrEnum):
    JSON = "json"
    PAIRS = "pairs"
    COLUMNS = "columns"
    NUMBER = "number"


class PortOptions(BaseModel):
    """A serial port, alike for all who share it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    port: str = Field(
        min_length=1,
        description="The port's path, best one of /dev/serial/by-id/, which stays the same when ports are renumbered.",
    )
    baud: int = Field(default=115200, ge=50, le=4_000_000, description="The port's speed, as in the board's program.")
    byte_size: int = Field(default=8, ge=5, le=8, description="Data bits of a character; nearly always 8.")
    parity: str = Field(
        default="none", pattern="^(none|even|odd)$", description='The parity bit: "none", "even" or "odd".'
    )
    stop_bits: int = Field(default=1, ge=1, le=2, description="Stop bits of a character: 1 or 2.")
    settle_s: float = Field(
        default=2.0,
        ge=0,
        le=60,
        description="Seconds after opening in which lines are ignored: opening restarts many boards, and they greet.",
    )
    silence_timeout_s: float = Field(
        default=300.0,
        ge=0,
        le=86_400,
        description="Seconds without a byte after which the port is opened anew, the only cure for a line that died "
        "silently; more than twice the board's own interval, or 0 for never.",
    )


class SerialLineOptions(PortOptions):
    """One serial port and the shape of the lines that come in on it."""

    format: Format = Field(
        description='How a line is written: "json" (one object), "pairs" (t=19.4 g=1.048), "columns" (19.4;1.048) '
        'or "number" (19.4).'
    )
    delimiter: str = Field(
        default=",",
        min_length=1,
        max_length=8,
        description='What stands between the columns; " " means any run of blanks.',
    )
    time_field: str | None = Field(
        default=None,
        description="The key, JSON pointer or column that holds the board's own time; without it the time of receipt "
        "counts.",
    )
    sequence_field: str | None = Field(
        default=None,
        description="The key, JSON pointer or column that holds the board's running number, by which a repeated line "
        "is known.",
    )

    @model_validator(mode="after")
    def _number_has_no_fields(self) -> Self:
        if self.format is Format.NUMBER and (self.time_field or self.sequence_field):
            raise ValueError('a line that is a bare number holds neither time_field nor sequence_field: use "columns"')
        return self
