"""Plug-ins of every kind, found through the entry points that an outside one would use too."""

from collections.abc import Iterator, Mapping
from importlib.metadata import EntryPoint, entry_points
from typing import Any

from pydantic import BaseModel

from fermwatch.contracts.controller import CONTROLLERS, ControllerKind
from fermwatch.contracts.driver import DRIVERS, DriverKind
from fermwatch.contracts.notifier import NOTIFIERS, NotifierKind
from fermwatch.contracts.plug_in import Group, KindT
from fermwatch.contracts.publisher import PUBLISHERS, PublisherKind
from fermwatch.errors import ConfigError
from fermwatch.text import clean

_MISSING = object()


class PlugIns(Mapping[str, KindT]):
    """Those of one group by name. One is loaded when it is asked for, and no other.

    Asking raises KeyError where none has that name, and ConfigError, with name and package, where it cannot be used.
    """

    def __init__(self, group: Group[KindT]) -> None:
        self._group = group
        self._points: dict[str, list[EntryPoint]] = {}
        for point in entry_points(group=group.name):
            self._points.setdefault(point.name, []).append(point)

    def __getitem__(self, name: str) -> KindT:
        points = self._points[name]
        packages = sorted({_package(point) for point in points})
        if len({point.value for point in points}) > 1:
            raise ConfigError(
                f'"{clean(name)}" is registered by {" and ".join(packages)}.', hint="Uninstall all of them but one."
            )
        subject = f'the {self._group.noun} "{clean(name)}" of {packages[0]}'
        try:
            kind: Any = points[0].load()
        except (Exception, SystemExit) as error:  # whatever a stranger's module does when it is imported
            reason = clean(f"{type(error).__name__}: {error}", 200)
            raise ConfigError(f"{subject} cannot be loaded ({reason}).", hint=_REMEDY) from error
        self._check(kind, subject)
        checked: KindT = kind
        return checked

    def __iter__(self) -> Iterator[str]:
        return iter(self._points)

    def __len__(self) -> int:
        return len(self._points)

    def __contains__(self, name: object) -> bool:
        return name in self._points

    def _check(self, kind: object, subject: str) -> None:
        noun, ours = self._group.noun, self._group.contract_version
        theirs, options = getattr(kind, "contract_version", _MISSING), getattr(kind, "options", None)
        if theirs is _MISSING:
            raise ConfigError(f"{subject} is no {noun}: it says no contract_version.", hint=_REMEDY)
        if theirs != ours:
            said = clean(str(theirs), 20)
            raise ConfigError(
                f"{subject} speaks contract {said}, this fermwatch contract {ours}.", hint="Install matching versions."
            )
        if not (isinstance(options, type) and issubclass(options, BaseModel)):
            raise ConfigError(f"{subject} is no {noun}: its options are no pydantic model.", hint=_REMEDY)


_REMEDY = "Reinstall it, or ask who made it."


def _package(point: EntryPoint) -> str:
    """The package that registered it, with its version."""
    return "an unnamed package" if point.dist is None else clean(f"{point.dist.name} {point.dist.version}", 120)


def drivers() -> Mapping[str, DriverKind[Any]]:
    """Every installed driver, none of them loaded yet."""
    return PlugIns(DRIVERS)


def controllers() -> Mapping[str, ControllerKind[Any]]:
    """Every installed kind of controller, none of them loaded yet."""
    return PlugIns(CONTROLLERS)


def notifiers() -> Mapping[str, NotifierKind[Any]]:
    """Every installed kind of notifier, none of them loaded yet."""
    return PlugIns(NOTIFIERS)


def publishers() -> Mapping[str, PublisherKind[Any]]:
    """Every installed kind of publisher, none of them loaded yet."""
    return PlugIns(PUBLISHERS)
