"""What was overheard so far, channel by channel; bounded, however much a hostile device invents. Pure: time is told."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from fermwatch.contracts.overhearing import SaidField, Utterance
from fermwatch.listening.recognising import Recognised, recognise
from fermwatch.model.quantity import Unit

MOST_CHANNELS = 200
_VALUES_KEPT = 50

Settings = tuple[tuple[str, str | int | bool], ...]
Key = tuple[str, Settings, str, str]


@dataclass(frozen=True)
class Gathered:
    """One channel, with the newest of what it said, oldest first. every_s: its median interval, None after one."""

    place: str
    driver: str
    settings: Settings
    topic: str
    channel: str
    name: str
    values: tuple[float, ...]
    unit: Unit | None
    unit_beside: Unit | None
    text: str
    retained: bool
    at_s: tuple[float, ...]

    @property
    def key(self) -> Key:
        return self.place, self.settings, self.topic, self.channel

    @cached_property
    def recognised(self) -> Recognised:
        return recognise(self.name, self.values, self.unit, self.unit_beside)

    @property
    def every_s(self) -> float | None:
        between = sorted(later - earlier for earlier, later in zip(self.at_s, self.at_s[1:], strict=False))
        return between[len(between) // 2] if between else None

    @property
    def where(self) -> str:
        """The channel as a person finds it again: the topic or the port, and the field."""
        return f"{self.topic}{self.channel}" if self.topic else self.channel


@dataclass(slots=True)
class Overheard:
    """Everything that was heard. left_out: channels beyond what is kept."""

    _channels: dict[Key, Gathered] = field(default_factory=dict)
    left_out: int = 0

    def add(self, said: Utterance, at_s: float) -> list[Gathered]:
        """The channels of what was said, as they stand now."""
        known = (self._add(said, one, at_s) for one in said.fields)
        return [one for one in known if one is not None]

    def __iter__(self) -> Iterator[Gathered]:
        return iter(self._channels.values())

    def _add(self, said: Utterance, one: SaidField, at_s: float) -> Gathered | None:
        key = (said.place, said.settings, said.topic, one.channel)
        before = self._channels.get(key)
        if before is None and len(self._channels) >= MOST_CHANNELS:
            self.left_out += 1
            return None
        if before is None:
            now = Gathered(
                said.place,
                said.driver,
                said.settings,
                said.topic,
                one.channel,
                one.name,
                (one.value,),
                one.unit,
                one.unit_beside,
                said.text,
                said.retained,
                () if said.retained else (at_s,),
            )
        else:
            now = replace(
                before,
                values=(*before.values, one.value)[-_VALUES_KEPT:],
                unit=one.unit or before.unit,
                unit_beside=one.unit_beside or before.unit_beside,
                text=said.text,
                retained=before.retained and said.retained,
                at_s=(*before.at_s, at_s)[-_VALUES_KEPT:],
            )
        self._channels[key] = now
        return now
