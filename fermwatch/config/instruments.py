"""The instruments that one person reads by hand, each by a name of its own: kept in a small file beside their units."""

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from fermwatch.config.locate import read_toml, user_directory
from fermwatch.config.preferences import write_whole
from fermwatch.errors import ConfigError, InputError
from fermwatch.model.batch import Instrument

FILE_NAME = "instruments.toml"
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,31}")
_KEYS = ("scale", "water_check", "wort_factor")


@dataclass(frozen=True, slots=True)
class OwnInstrument:
    """kind: hydrometer or refractometer. The others as they are typed for `measure`; empty where nothing was said."""

    name: str
    kind: Instrument
    scale: str = ""
    water_check: str = ""
    wort_factor: str = ""


def instruments_file(environment: Mapping[str, str]) -> Path:
    return user_directory(environment) / FILE_NAME


def own_instruments(environment: Mapping[str, str]) -> dict[str, OwnInstrument]:
    """By name; none where nothing was kept. ConfigError names the file and what is wrong in it."""
    file = instruments_file(environment)
    if not file.exists():
        return {}
    said = read_toml(file)[0]
    return {name: _read(file, name, table) for name, table in said.items()}


def _read(file: Path, name: str, table: object) -> OwnInstrument:
    hint = f'As: [{name}] kind = "hydrometer", scale = "60F", water_check = "1.001". Or: fermwatch instrument'
    if not isinstance(table, dict) or not all(isinstance(value, str) for value in table.values()):
        raise ConfigError("must be a table of texts in quotes.", file=file, key=name, hint=hint)
    unknown = set(table) - {"kind", *_KEYS}
    kind = table.get("kind")
    if unknown or kind not in list(Instrument):
        raise ConfigError("is no instrument.", file=file, key=name, hint=hint)
    return OwnInstrument(name, Instrument(kind), **{key: table.get(key, "") for key in _KEYS})


def keep(instrument: OwnInstrument, environment: Mapping[str, str]) -> Path:
    """Beside the others; the file. InputError for a name that cannot be typed later."""
    if not _NAME.fullmatch(instrument.name) or instrument.name in {"list", "void", *Instrument}:
        raise InputError(
            f"{instrument.name!r:.40} cannot name an instrument.",
            hint='Use small letters, digits and dashes, as "narrow-range"; not a kind of instrument itself.',
        )
    return _write({**own_instruments(environment), instrument.name: instrument}, environment)


def forget(name: str, environment: Mapping[str, str]) -> Path:
    """InputError where there is none of that name."""
    known = own_instruments(environment)
    if name not in known:
        listed = f"There is {', '.join(known)}." if known else "None is kept."
        raise InputError(f"{name!r:.40} is no instrument of yours.", hint=listed)
    return _write({key: one for key, one in known.items() if key != name}, environment)


def _write(instruments: Mapping[str, OwnInstrument], environment: Mapping[str, str]) -> Path:
    """Every value was read by its own strict reader before, so that none breaks out of its quotes."""
    lines = ["# What `fermwatch instrument` was told."]
    for one in instruments.values():
        said = {key: value for key, value in asdict(one).items() if value and key != "name"}
        lines += [f"[{one.name}]", *(f'{key} = "{value}"' for key, value in said.items()), ""]
    file = instruments_file(environment)
    write_whole(file, "\n".join(lines), hint="Until it can be, say the options with each reading.")
    return file
