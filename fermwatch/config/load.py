"""From a file to a checked configuration, with the drivers' own options checked by the drivers' own models."""

import stat
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from fermwatch.clock import Clock, SystemClock
from fermwatch.config.lines import Location, dotted, line_of
from fermwatch.config.locate import default_store, read_toml
from fermwatch.config.mistakes import explain, refuse_switches
from fermwatch.config.schema import Config, ControllerConfig, NotifyConfig, PlugInConfig, PublishConfig, SourceConfig
from fermwatch.contracts.controller import Controller, ControllerKind
from fermwatch.contracts.driver import Driver, DriverKind
from fermwatch.contracts.notifier import Notifier, NotifierKind
from fermwatch.contracts.plug_in import Kind, KindT
from fermwatch.contracts.publisher import Publisher, PublisherKind, Shelf
from fermwatch.contracts.wire import Wires
from fermwatch.errors import ConfigError, FermwatchError
from fermwatch.model.degree import Degree
from fermwatch.text import clean

T = TypeVar("T")

SECRET_KEYS = {"password", "passphrase", "secret", "token", "api_key"}


def _made(what: str, make: Callable[[], T]) -> T:
    """ConfigError where a plug-in fails, whoever made it."""
    try:
        return make()
    except FermwatchError:
        raise
    except Exception as error:  # a stranger's mistake
        reason = clean(f"{type(error).__name__}: {error}", 200)
        raise ConfigError(
            f"{what} failed when it was made ({reason}).", hint="Check its keys, or ask who made it."
        ) from error


@dataclass(frozen=True, slots=True)
class LoadedSource:
    name: str
    driver: str
    kind: DriverKind[Any]
    options: BaseModel
    channels: tuple[str, ...]

    def make(self, clock: Clock, wires: Wires) -> Driver:
        """Its driver. ConfigError where a probe names a channel that the driver cannot have, or the driver fails."""
        what = f'the driver "{self.driver}" of the source "{self.name}"'
        return _made(what, lambda: self.kind.create(self.name, self.options, self.channels, clock, wires))


@dataclass(frozen=True, slots=True)
class LoadedController:
    """A controller that may be asked, through the wire of the source that reads it."""

    said: ControllerConfig
    kind: ControllerKind[Any]
    options: BaseModel

    def make(self, clock: Clock, wires: Wires) -> Controller:
        return self.kind.create(self.said.source, self.options, clock, wires)


@dataclass(frozen=True, slots=True)
class LoadedNotifier:
    """directory: of the configuration, to which the plug-in's relative paths refer."""

    name: str
    by: str
    kind: NotifierKind[Any]
    options: BaseModel
    directory: Path

    def make(self) -> Notifier:
        """ConfigError where it cannot be made, as where what carries it is not installed."""
        what = f'the notifier "{self.by}" of "{self.name}"'
        return _made(what, lambda: self.kind.create(self.name, self.options, self.directory))


@dataclass(frozen=True, slots=True)
class LoadedPublisher:
    said: PublishConfig
    kind: PublisherKind[Any]
    options: BaseModel

    def make(self, name: str, shelf: Shelf) -> Publisher:
        what = f'the publisher "{self.said.by}"'
        return _made(what, lambda: self.kind.create(name, self.options, shelf, self.said.every_s))


@dataclass(frozen=True, slots=True)
class Loaded:
    file: Path | None
    config: Config
    sources: tuple[LoadedSource, ...]
    store: Path
    controllers: tuple[LoadedController, ...] = ()
    notifiers: tuple[LoadedNotifier, ...] = ()
    alive: LoadedNotifier | None = None
    publish: LoadedPublisher | None = None


def load(
    file: Path,
    kinds: Mapping[str, DriverKind[Any]],
    environment: Mapping[str, str],
    controller_kinds: Mapping[str, ControllerKind[Any]] | None = None,
    notifier_kinds: Mapping[str, NotifierKind[Any]] | None = None,
    publisher_kinds: Mapping[str, PublisherKind[Any]] | None = None,
) -> Loaded:
    """Read and check everything. ConfigError on the first thing that is wrong."""
    said, text = read_toml(file)
    _refuse_secrets(said, file, text)
    try:
        config = Config.model_validate(said)
    except ValidationError as error:
        raise explain(error, Config, file, text) from None
    refuse_switches(said, config, file, text)
    wires = Wires()  # to find here what cannot be shared; the watcher has its own
    sources = tuple(
        _source(index, source, config, kinds, wires, file, text) for index, source in enumerate(config.source)
    )
    directory = config.store.directory
    store = (file.parent / directory.expanduser()).resolve() if directory else default_store(file, environment)
    controllers = tuple(
        _controller(index, one, sources, controller_kinds or {}, wires, file, text)
        for index, one in enumerate(config.controller)
    )
    known = notifier_kinds or {}
    notifiers = tuple(_notifier(("notify", index), one, known, file, text) for index, one in enumerate(config.notify))
    alive = None if config.alive is None else _notifier(("alive",), config.alive.said, known, file, text)
    publish = None if config.publish is None else _publisher(config.publish, publisher_kinds or {}, file, text)
    return Loaded(file, config, sources, store, controllers, notifiers, alive, publish)


def _publisher(said: PublishConfig, kinds: Mapping[str, PublisherKind[Any]], file: Path, text: str) -> LoadedPublisher:
    place: Location = ("publish",)
    kind = _kind(said.by, kinds, "publisher", file, text, (*place, "by"))
    options = _options(kind, said, file, text, place)
    return LoadedPublisher(said, kind, options)


def _notifier(
    place: Location, said: NotifyConfig, kinds: Mapping[str, NotifierKind[Any]], file: Path, text: str
) -> LoadedNotifier:
    kind = _kind(said.by, kinds, "notifier", file, text, (*place, "by"))
    options = _options(kind, said, file, text, place)
    loaded = LoadedNotifier(said.name, said.by, kind, options, file.resolve().parent)
    try:
        loaded.make()
    except ConfigError as error:
        raise ConfigError(error.message, file=file, line=line_of(text, place), hint=error.hint) from None
    return loaded


def _controller(
    index: int,
    said: ControllerConfig,
    sources: Sequence[LoadedSource],
    kinds: Mapping[str, ControllerKind[Any]],
    wires: Wires,
    file: Path,
    text: str,
) -> LoadedController:
    """ConfigError where its source's driver can only be read, or the device cannot do what is allowed."""
    place = ("controller", index)
    source = next(one for one in sources if one.name == said.source)
    kind = kinds.get(source.driver)
    if kind is None:
        raise ConfigError(
            f"{source.name} speaks by {source.driver}, which can only be read.",
            file=file,
            line=line_of(text, place),
            hint=f"Controllers speak by {', '.join(sorted(kinds)) or 'none that is installed'}.",
        )
    loaded = LoadedController(said, kind, source.options)
    try:
        abilities = loaded.make(SystemClock(), wires).abilities
    except ConfigError as error:
        raise ConfigError(error.message, file=file, line=line_of(text, place), hint=error.hint) from None
    if said.degree is Degree.SET and abilities.set_point is None:
        raise ConfigError(
            f"the set point of {source.name} cannot be written.",
            file=file,
            line=line_of(text, place),
            hint='Its register map or options say so; leave degree = "observe".',
        )
    if said.degree is Degree.DRIVE and not abilities.outputs:
        raise ConfigError(
            f"{source.name} has no output that can be switched.",
            file=file,
            line=line_of(text, place),
            hint='Its register map or options say so; leave degree = "set" or "observe".',
        )
    return loaded


def _source(
    index: int,
    source: SourceConfig,
    config: Config,
    kinds: Mapping[str, DriverKind[Any]],
    wires: Wires,
    file: Path,
    text: str,
) -> LoadedSource:
    place = ("source", index)
    kind = _kind(source.driver, kinds, "driver", file, text, (*place, "driver"))
    options = _options(kind, source, file, text, place)
    channels = tuple(probe.channel for probe in config.probe if probe.source == source.name)
    loaded = LoadedSource(source.name, source.driver, kind, options, channels)
    try:
        loaded.make(SystemClock(), wires)
    except ConfigError as error:
        raise ConfigError(error.message, file=file, line=line_of(text, place), hint=error.hint) from None
    return loaded


def _options(kind: Kind, said: PlugInConfig, file: Path, text: str, place: Location) -> BaseModel:
    """A plug-in's own keys, by its own model. ConfigError names the first that is wrong."""
    try:
        options = kind.options.model_validate(said.own_keys)
    except ValidationError as error:
        raise explain(error, kind.options, file, text, place) from None
    refuse_switches(said.own_keys, options, file, text, place)
    return options


def _kind(name: str, kinds: Mapping[str, KindT], noun: str, file: Path, text: str, place: Location) -> KindT:
    """The plug-in of that name, loaded now. ConfigError where there is none, or it cannot be used."""
    line, key = line_of(text, place), dotted(place)
    try:
        kind = kinds.get(name)
    except ConfigError as error:
        raise ConfigError(error.message, file=file, line=line, key=key, hint=error.hint) from None
    if kind is None:
        known = ", ".join(sorted(kinds)) or "none"
        raise ConfigError(
            f"no {noun} is called {name!r}.", file=file, line=line, key=key, hint=f"Installed here: {known}."
        )
    return kind


def _refuse_secrets(said: Mapping[str, Any], file: Path, text: str) -> None:
    """A secret has no place in a configuration, and least in one that others can read."""
    for location in _secrets(said, ()):
        readable = bool(file.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO))
        key, line = dotted(location), line_of(text, location)
        name = str(location[-1])
        if readable:
            hint = f"Run: chmod 600 {file}  Then change the secret, and keep it in a file of its own ({name}_file)."
            raise ConfigError("a secret in a file that others can read.", file=file, line=line, key=key, hint=hint)
        hint = f'Write it to a file with mode 600 and name that file: {name}_file = "...".'
        raise ConfigError("a secret does not belong in the configuration.", file=file, line=line, key=key, hint=hint)


def _secrets(value: object, location: tuple[str | int, ...]) -> Iterator[tuple[str | int, ...]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if str(key).lower() in SECRET_KEYS:
                yield (*location, key)
            yield from _secrets(inner, (*location, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _secrets(inner, (*location, index))
