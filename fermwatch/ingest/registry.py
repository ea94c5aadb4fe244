"""Drivers, found through the entry-point group that an outside one would use too."""

from collections.abc import Mapping
from importlib.metadata import entry_points
from typing import Any

from fermwatch.contracts.driver import CONTRACT_VERSION, GROUP, DriverKind
from fermwatch.errors import ConfigError


def driver_kinds(wanted: frozenset[str] | None = None) -> Mapping[str, DriverKind[Any]]:
    """Name -> kind, for those wanted (all where None). ConfigError where one cannot be used, with its name."""
    kinds: dict[str, DriverKind[Any]] = {}
    for point in entry_points(group=GROUP):
        if wanted is not None and point.name not in wanted:
            continue
        try:
            kind = point.load()
        except (ImportError, AttributeError) as error:
            raise ConfigError(f"the driver {point.name!r} cannot be loaded: {error}.", hint="Reinstall it.") from error
        if kind.contract_version != CONTRACT_VERSION:
            raise ConfigError(
                f"the driver {point.name!r} speaks contract {kind.contract_version}, fermwatch {CONTRACT_VERSION}.",
                hint="Install matching versions.",
            )
        kinds[point.name] = kind
    return kinds
