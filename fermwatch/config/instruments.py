"""The instruments that one person reads by hand, each by a name of its own: kept in a small file beside their units."""

import contextlib
import fcntl
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from fermwatch.config.locate import read_toml, user_directory
from fermwatch.config.preferences import write_whole
from fermwatch.errors import ConfigError, InputError
from fermwatch.model.batch import Instrument
from fermwatch.text import clean

FILE_NAME = "instruments.toml"
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,31}")
_NAMES = 'Use small letters, digits and dashes, as "narrow-range"; not a kind of instrument itself.'
LONGEST = 40
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
    for name in said:
        if not _may_name(name):
            raise ConfigError("cannot name an instrument.", file=file, key=clean(name, 40), hint=_NAMES)
    return {name: _read(file, name, table) for name, table in said.items()}


def _may_name(name: str) -> bool:
    return _NAME.fullmatch(name) is not None and name not in {"list", "void", *Instrument}


def _read(file: Path, name: str, table: object) -> OwnInstrument:
    hint = f'As: [{name}] kind = "hydrometer", scale = "60F", water_check = "1.001". Or: fermwatch instrument'
    if not isinstance(table, dict) or not all(_is_plain(value) for value in table.values()):
        raise ConfigError("must be a table of texts in quotes.", file=file, key=name, hint=hint)
    unknown = set(table) - {"kind", *_KEYS}
    kind = table.get("kind")
    if unknown or kind not in list(Instrument):
        raise ConfigError("is no instrument.", file=file, key=name, hint=hint)
    return OwnInstrument(name, Instrument(kind), **{key: table.get(key, "") for key in _KEYS})


def _is_plain(value: object) -> bool:
    """A short text that stays within its quotes where it is written again."""
    return isinstance(value, str) and len(value) <= LONGEST and value.isprintable() and not set(value) & set('"\\')


def keep(instrument: OwnInstrument, environment: Mapping[str, str]) -> Path:
    """Beside the others; the file. InputError for a name that cannot be typed later."""
    if not _may_name(instrument.name):
        raise InputError(f"{instrument.name!r:.40} cannot name an instrument.", hint=_NAMES)
    with _alone(environment):
        return _write({**own_instruments(environment), instrument.name: instrument}, environment)


def forget(name: str, environment: Mapping[str, str]) -> Path:
    """InputError where there is none of that name."""
    with _alone(environment):
        known = own_instruments(environment)
        if name not in known:
            listed = f"There is {', '.join(known)}." if known else "None is kept."
            raise InputError(f"{name!r:.40} is no instrument of yours.", hint=listed)
        return _write({key: one for key, one in known.items() if key != name}, environment)


@contextlib.contextmanager
def _alone(environment: Mapping[str, str]) -> Iterator[None]:
    """No other command changes them meanwhile; where nothing may be written, the writing itself says so."""
    place = user_directory(environment)
    with contextlib.ExitStack() as held:
        with contextlib.suppress(OSError):
            place.mkdir(parents=True, exist_ok=True)
            lock = held.enter_context((place / f".{FILE_NAME}.lock").open("w"))
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _write(instruments: Mapping[str, OwnInstrument], environment: Mapping[str, str]) -> Path:
    """Every value was read by its own strict reader before, so that none breaks out of its quotes."""
    lines = ["# What `fermwatch instrument` was told."]
    for one in instruments.values():
        said = {key: value for key, value in asdict(one).items() if value and key != "name"}
        lines += [f"[{one.name}]", *(f'{key} = "{value}"' for key, value in said.items()), ""]
    file = instruments_file(environment)
    write_whole(file, "\n".join(lines), hint="Until it can be, say the options with each reading.")
    return file
