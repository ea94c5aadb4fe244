"""Wires that several may share: a serial line, or a connection to a broker, is opened once for all who use it."""

from collections.abc import Callable, Mapping
from typing import Any, Protocol, TypeVar

from fermwatch.errors import ConfigError, ProbeUnavailable
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
        odd = [name for name in {**agreed, **settings} if agreed.get(name) != settings.get(name)]
        if odd:
            raise ConfigError(
                f'{clean(place)} is opened once for the sources "{clean(first)}" and "{clean(user)}", which differ in '
                f"{' and '.join(odd)}.",
                hint=f"Say the same {' and '.join(odd)} in both.",
            )
        shared: WireT = wire
        return shared


class NoLongerWanted(Exception):
    """What was to be asked was not asked: when its turn came, it had become too late for it."""


class NoAnswerInTime(ProbeUnavailable):
    """One question was not answered; the wire itself may be as good as ever."""


class Asking(Protocol):
    """An open line whose far end answers. Raises ProbeUnavailable where the line is lost meanwhile."""

    async def ask(
        self,
        question: bytes,
        is_answer: Callable[[bytes], bool],
        *,
        limit_s: float,
        wanted: Callable[[], bool] = lambda: True,
    ) -> bytes:
        """Send a line, and return the first that comes back for which `is_answer` is true: nobody else hears that one.

        One question at a time; others wait for their turn, and where one was not answered, as long again for an
        answer that is late: it is nobody's. limit_s: from when it is sent. wanted: asked in the instant of sending.

        Raises NoLongerWanted where `wanted` says so; NoAnswerInTime where no answer comes within `limit_s`.
        """


class Publishing(Protocol):
    """An open connection to a broker. Raises ProbeUnavailable where it is lost meanwhile."""

    async def publish(
        self, topic: str, payload: bytes, *, qos: int = 1, retain: bool = False, expires_after_s: int | None = None
    ) -> None:
        """Publish, and return when the broker has taken it over (with `qos` 0: when it is sent).

        expires_after_s: how long the broker may keep it for whoever is away. Raises ProbeRefused where the broker
        cannot let it expire: what is meant for now must not come late. That it may not be published at all is not told.
        """
