"""What came in together, as it is gathered into one delivery: bounded, however much nonsense a device sends."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from fermwatch.contracts.driver import Delivery, Rejection
from fermwatch.model.reading import RawReading
from fermwatch.text import clean

MOST_TAUGHT = 32  # names of unbound channels per connection: a hostile device may invent one per line
NAME_LIMIT = 80
SAMPLE_LIMIT = 60


class Teaching:
    """Which channels are delivered: the bound ones always, others once, so that the user learns their names."""

    def __init__(self, bound: Iterable[str]) -> None:
        self._bound = frozenset(bound)
        self._taught: set[str] = set()

    def name(self, said: str) -> str:
        """The name of a channel as it is written on screen and in a configuration: harmless, and not too long."""
        plain = said in self._bound or (said.isascii() and said.isprintable() and len(said) <= NAME_LIMIT)
        return said if plain else clean(said, NAME_LIMIT)

    def channel(self, said: str) -> str | None:
        """The channel's name where its value is wanted now, else None."""
        name = self.name(said)
        if name in self._bound:
            return name
        return None if not name or name in self._taught or len(self._taught) >= MOST_TAUGHT else name

    def is_bound(self, channel: str) -> bool:
        return channel in self._bound

    def heard(self, channel: str) -> None:
        """Note that a value of this channel goes out."""
        if channel not in self._bound:
            self._taught.add(channel)


@dataclass(slots=True)
class Heard:
    """Readings and rejections on their way into a delivery. Equal rejections are counted, not collected."""

    readings: list[RawReading] = field(default_factory=list)
    _counts: dict[tuple[str, str], int] = field(default_factory=dict)
    _samples: dict[tuple[str, str], str] = field(default_factory=dict)

    def reject(self, reason: str, sample: str | bytes = "", channel: str = "", count: int = 1) -> None:
        key = (reason, channel)
        if key not in self._counts:
            self._samples[key] = clean(sample, SAMPLE_LIMIT)
        self._counts[key] = self._counts.get(key, 0) + count

    def __bool__(self) -> bool:
        return bool(self.readings or self._counts)

    def delivery(self, settled: Callable[[], None] | None = None, *, urgent: bool = False) -> Delivery:
        rejections = tuple(
            Rejection(reason, self._samples[reason, channel], channel, count)
            for (reason, channel), count in self._counts.items()
        )
        return Delivery(tuple(self.readings), rejections, settled, urgent)
