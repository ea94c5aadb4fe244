"""Configurations as files, and what is said of them."""

from pathlib import Path

import pytest

from fermwatch.config.load import Loaded, load
from fermwatch.errors import ConfigError
from fermwatch.ingest.plug_ins import drivers

VESSEL = '[[vessel]]\nid = "left"\nname = "Left"\nvolume_l = 30\n'
SOURCE = '[[source]]\nname = "board"\ndriver = "serial-line"\nport = "/dev/ttyUSB0"\nformat = "pairs"\n'
PROBE = (
    '[[probe]]\nid = "left-beer"\nvessel = "left"\nquantity = "beer-temperature"\nsource = "board"\nchannel = "t1"\n'
)
WHOLE = VESSEL + SOURCE + PROBE


def write(directory: Path, text: str | bytes, mode: int = 0o644) -> Path:
    file = directory / "fermwatch.toml"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    file.chmod(mode)
    return file


def loaded(directory: Path, text: str | bytes) -> Loaded:
    return load(write(directory, text), drivers(), {"HOME": str(directory)})


def refused(directory: Path, text: str | bytes) -> ConfigError:
    with pytest.raises(ConfigError) as caught:
        loaded(directory, text)
    assert "\n" not in str(caught.value)
    assert str(directory / "fermwatch.toml") in str(caught.value)
    return caught.value
