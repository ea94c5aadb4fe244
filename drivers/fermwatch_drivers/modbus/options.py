"""What a source or a controller with the driver "modbus-tcp" or "modbus-rtu" may say in the configuration."""

from pathlib import Path
from typing import Self

from pydantic import ConfigDict, Field, PrivateAttr, model_validator

from fermwatch_drivers.hosts import refuse_more_than_a_host
from fermwatch_drivers.modbus.register_map import RegisterMap, map_in, shipped_map
from fermwatch_drivers.read_source import ChannelledOptions


class ModbusOptions(ChannelledOptions):
    """One Modbus device, and what its registers mean."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    device_id: int = Field(
        default=1, ge=0, le=255, description="The device's number on its line (unit identifier, slave address)."
    )
    map: str | None = Field(default=None, min_length=1, description="The name of a register map that ships.")
    map_file: Path | None = Field(
        default=None, description="A register map of your own, best with its whole path; docs/controller.md shows one."
    )
    every_s: float = Field(default=30.0, ge=0.1, le=3600.0, description="Seconds from one reading to the next.")
    answer_limit_s: float = Field(
        default=1.0, ge=0.05, le=30.0, description="Seconds that the device has to answer a question."
    )

    _kind: RegisterMap = PrivateAttr()

    @model_validator(mode="after")
    def _reads_its_map(self) -> Self:
        """With the configuration, before anything runs: a file may hang. Raises ConfigError, which names the file."""
        if (self.map is None) == (self.map_file is None):
            raise ValueError("say either map, the name of one that ships, or map_file, one of your own")
        self._kind = map_in(self.map_file) if self.map_file is not None else shipped_map(self.map or "")
        return self

    @property
    def channels(self) -> tuple[str, ...]:
        """See `fermwatch_drivers.read_source.ChannelledOptions`."""
        return self._kind.channels

    @property
    def register_map(self) -> RegisterMap:
        """What `map` or `map_file` held when the configuration was read."""
        return self._kind


class ModbusTcpOptions(ModbusOptions):
    """One Modbus device that is reached over TCP, by itself or through a gateway."""

    host: str = Field(min_length=1, description="The host name or address of the controller, or of its gateway.")
    port: int = Field(default=502, ge=1, le=65_535, description="The port; 502 is Modbus TCP's own.")

    @model_validator(mode="before")
    @classmethod
    def _a_host_alone(cls, said: object) -> object:
        refuse_more_than_a_host(said, "controller", default_port=502)
        return said


class ModbusRtuOptions(ModbusOptions):
    """One Modbus device on a serial line (RTU), beside others or alone."""

    device_id: int = Field(default=1, ge=1, le=247, description="The device's number on its line (slave address).")
    port: str = Field(
        min_length=1,
        description="The port's path, best one of /dev/serial/by-id/, which stays the same when ports are renumbered.",
    )
    baud: int = Field(default=9600, ge=1200, le=921_600, description="The line's speed, as set in the controller.")
    parity: str = Field(
        default="none", pattern="^(none|even|odd)$", description='The parity bit: "none", "even" or "odd".'
    )
    stop_bits: int = Field(default=1, ge=1, le=2, description="Stop bits of a character: 1 or 2.")
    drain_s: float = Field(
        default=1.0,
        ge=0.05,
        le=30.0,
        description="Seconds of silence after a question without its answer, before the next one: an answer that comes "
        "later still may be taken for another's, which is all that RTU can promise.",
    )

    @property
    def byte_size(self) -> int:
        """RTU has eight bits to a character."""
        return 8
