"""Each reading weighed against what is believed of its probe, before it is stored: a jump that no beer can make is
flagged as such, and a new level believed once it has stood.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.store import Past
from fermwatch.model.believable import Level, ValueAt, believable, weigh
from fermwatch.model.history import History
from fermwatch.model.quantity import Quantity
from fermwatch.model.reading import Flag, Reading

LOOK_BACK = timedelta(hours=1)
MOST_LITRES = 1000.0  # of a fermenter that is configured no more: then nothing is a jump but what is one for all

Levels = dict[int, Level]


@dataclass(frozen=True, slots=True)
class _Beer:
    quantity: Quantity
    volume_l: float


class Weighing:
    """What is believed of every series."""

    def __init__(self) -> None:
        self._beers: dict[int, _Beer] = {}
        self._levels: Levels = {}

    def know(self, store: Past) -> None:
        """Which series there are, of what, in how much beer; nothing is believed of them yet."""
        volumes = {vessel.slug: vessel.volume_l for vessel in store.vessels()}
        self._beers = {
            one.series: _Beer(one.probe.quantity, volumes.get(one.probe.vessel, MOST_LITRES)) for one in store.series()
        }

    def recall(self, store: Past, now: datetime) -> None:
        """Read back what is needed to go on as if never interrupted. What was said in another fermenter holds for none
        of this one's beer."""
        self.know(store)
        history, here = History(store.bindings()), {one.series: one.probe.vessel for one in store.series()}
        self._levels = {
            number: Level(ValueAt(to_ms(latest.at), latest.value))
            for number, latest in store.latest().items()
            if not latest.last_known
            and believable(latest.flags)
            and history.vessel(number, latest.at) == here.get(number)
        }
        for number in self._beers:
            for reading in store.readings(number, now - LOOK_BACK, now):
                if history.vessel(number, from_ms(reading.at_ms)) != here[number]:
                    continue
                if believable(reading.flags):
                    self._levels[number] = Level(ValueAt(reading.at_ms, reading.value))
                elif reading.flags == Flag.JUMP:
                    _, self._levels = self.weighed([replace(reading, flags=Flag.GOOD)])

    def weighed(self, readings: Sequence[Reading]) -> tuple[tuple[Reading, ...], Levels]:
        """The readings with their flags, and what is believed once they are stored: `believe` it then."""
        levels = dict(self._levels)
        flagged = []
        for reading in readings:
            beer = self._beers.get(reading.series)
            if beer is None:
                flagged.append(reading)
                continue
            said = ValueAt(reading.at_ms, reading.value)
            flags, level = weigh(levels.get(reading.series), beer.quantity, beer.volume_l, said, reading.flags)
            if level is not None:
                levels[reading.series] = level
            flagged.append(reading if flags == reading.flags else replace(reading, flags=flags))
        return tuple(flagged), levels

    def believe(self, levels: Levels) -> None:
        self._levels = levels
