"""Wires that several may share: a serial line, or a connection to a broker, is opened once for all who use it."""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from fermwatch.errors import ConfigError
from fermwatch.text import clean

WireT = TypeVar("WireT")


class Wires:
    """The wires of one watcher by their place. Opens nothing: a wire is open while one of its users runs."""

    def __init__(self) -> None:
        self._made: dict[str, tuple[Any, Mapping[str, object], str]] = {}

    def share(self, place: str, settings: Mapping[str, object], user: str, make: Callable[[], WireT]) -> WireT:
        """The wire at this place, made now where `user` is the first to name it.

        place: what two users must say alike to mean the same wire. settings: what can only be one way for all of them,
        by the names of the configuration's keys. Raises ConfigError where `user` wants them otherwise.
        """
        if place not in self._made:
            self._made[place] = (make(), dict(settings), user)
        wire, agreed, first = self._made[place]
        odd = [name for name, value in settings.items() if agreed.get(name) != value]
        if odd:
            raise ConfigError(
                f'{clean(place)} is opened once for the sources "{clean(first)}" and "{clean(user)}", which differ in '
                f"{' and '.join(odd)}.",
                hint=f"Say the same {' and '.join(odd)} in both.",
            )
        shared: WireT = wire
        return shared
