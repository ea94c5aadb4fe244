"""What a source with the driver "modbus-tcp" may say in the configuration."""

from pathlib import Path
from typing import Self

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, model_validator

from fermwatch_drivers.modbus.register_map import RegisterMap, map_in, shipped_map


class ModbusOptions(BaseModel):
    """One Modbus device, and what its registers mean."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    device_id: int = Field(
        default=1, ge=0, le=255, description="The device's number on its line (unit identifier, slave address)."
    )
    map: str | None = Field(default=None, min_length=1, description="The name of a register map that ships.")
    map_file: Path | None = Field(
        default=None, description="A register map of your own, best with its whole path; the README shows one."
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
    def register_map(self) -> RegisterMap:
        """What `map` or `map_file` held when the configuration was read."""
        return self._kind


class ModbusTcpOptions(ModbusOptions):
    """One Modbus device that is reached over TCP, by itself or through a gateway."""

    host: str = Field(min_length=1, description="The host name or address of the controller, or of its gateway.")
    port: int = Field(default=502, ge=1, le=65_535, description="The port; 502 is Modbus TCP's own.")
