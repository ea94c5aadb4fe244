"""What a store keeps whole, as JSON text: shapes with a version of their own, apart from the nouns that they bring.

A row says which version of its shape it is (`row`; where it says nothing, the first). A change of a noun
touches what is kept so:

* a field with a default is added: older rows lack it, and older programs pass over it;
* a word is added to an enum: an older program passes over the rows that hold it, and says so;
* a field is renamed: `stored_as` goes on calling it by its old key;
* anything else is a new version: one more of `upgrades`. Older programs pass over such rows, and say so.

tests/unit/store holds every shape that was ever written, and fails where one changes unnoticed.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

from fermwatch.contracts.store import ControllerStatus, SourceStatus, WatcherStatus
from fermwatch.errors import UnreadableRow
from fermwatch.model import event_data
from fermwatch.model.batch import LEAST_SD_POINTS, Batch, Event, GravityMeasurement
from fermwatch.model.finding import Alarm
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Probe, Vessel
from fermwatch.model.telling import NotifierStatus, Told
from fermwatch.plain_data import Malformed, UnknownWord, from_plain, to_plain
from fermwatch.text import clean

VERSION = "row"
FIRST = 1

NounT = TypeVar("NounT")
Plain = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Shape(Generic[NounT]):
    """How one noun is kept.

    name: what a person calls it; known_by: the fields that tell one from another.
    stored_as: the key of a field where it is not the field's name. upgrades: each takes a row of its version (the first
    of them version 1) to the next, before anything of it was checked. mended: what is done to each that was read.
    """

    noun: type[NounT]
    name: str
    known_by: tuple[str, ...] = ("id",)
    stored_as: Mapping[str, str] = field(default_factory=dict)
    upgrades: tuple[Callable[[Plain], Plain], ...] = ()
    mended: Callable[[NounT], NounT] | None = None

    @property
    def version(self) -> int:
        return FIRST + len(self.upgrades)

    def row(self, value: NounT) -> str:
        """The text that is kept."""
        plain = {self.stored_as.get(key, key): item for key, item in to_plain(value).items()}
        return json.dumps({VERSION: self.version, **plain}, separators=(",", ":"), allow_nan=False)

    def read(self, text: str) -> NounT:
        """The noun of a kept row, of this version or an older one. Raises UnreadableRow."""
        try:
            read = from_plain(self.noun, self._fields(_object(text)), tolerant=True)
            return read if self.mended is None else self.mended(read)
        except Malformed as error:
            raise self._unreadable(text, error) from error

    def _fields(self, plain: Plain) -> Plain:
        version = plain.pop(VERSION, FIRST)
        if type(version) is not int or version < FIRST:
            raise Malformed(VERSION, f"expected a version, got {version!r:.20}")
        if version > self.version:
            raise UnknownWord(VERSION, f"version {version}, and this one knows {self.version}")
        try:
            for upgrade in self.upgrades[version - FIRST :]:
                plain = upgrade(plain)
        except (LookupError, TypeError, ValueError) as error:
            raise Malformed(VERSION, f"version {version} cannot be brought to today's: {error!r:.100}") from error
        return plain | {key: plain[kept] for key, kept in self.stored_as.items() if kept in plain}

    def _unreadable(self, text: str, error: Malformed) -> UnreadableRow:
        newer, why = isinstance(error, UnknownWord), clean(str(error), 300)
        which = f"{self.name} {self.label(text)}"
        if newer:
            return UnreadableRow(
                f"The {which} was written by a newer version of fermwatch ({why}).",
                hint="Update this one.",
                why=why,
                newer=True,
            )
        return UnreadableRow(
            f"The {which} cannot be read ({why}).",
            hint="The watcher and this program may be of different versions: update the older one.",
            why=why,
        )

    def label(self, text: str) -> str:
        """By what a person knows the row, as far as that can be read; one cleaned line."""
        try:
            plain = _object(text)
        except Malformed:
            plain = {}
        said = (plain.get(self.stored_as.get(key, key)) for key in self.known_by)
        return clean(" ".join(str(one) for one in said if one is not None), 100) or "(without a name)"


def _object(text: str) -> Plain:
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Malformed("row", f"not JSON: {error}") from None
    if not isinstance(plain, dict):
        raise Malformed("row", "expected an object")
    return plain


def _no_more_certain_than_can_be(plain: Plain) -> Plain:
    """The first version kept some measurements as certain as nothing is."""
    said = plain.get("sd_points")
    too_certain = isinstance(said, int | float) and said < LEAST_SD_POINTS
    return {**plain, "sd_points": LEAST_SD_POINTS} if too_certain else plain


def _with_its_own_data(event: Event) -> Event:
    """What its kind does not know is passed over."""
    return replace(event, data=event_data.read(event.kind, event.data, tolerant=True))


VESSEL = Shape(Vessel, "fermenter", ("slug",))
PROBE = Shape(Probe, "probe", ("slug",))
BATCH = Shape(Batch, "batch")
MEASUREMENT = Shape(GravityMeasurement, "measurement", upgrades=(_no_more_certain_than_can_be,))
EVENT = Shape(Event, "event", mended=_with_its_own_data)
JUDGEMENT = Shape(Judgement, "judgement", ("at",))
ALARM = Shape(Alarm, "alarm", ("rule", "subject"))
SOURCE = Shape(SourceStatus, "source", ("name",))
CONTROLLER = Shape(ControllerStatus, "controller", ("name",))
NOTIFIER = Shape(NotifierStatus, "notifier", ("name",))
TOLD = Shape(Told, "word of a notifier", ("notifier", "rule", "subject"))
WATCHER = Shape(WatcherStatus, "sign of life", ("pid",))

SHAPES: tuple[Shape[Any], ...] = (
    VESSEL,
    PROBE,
    BATCH,
    MEASUREMENT,
    EVENT,
    JUDGEMENT,
    ALARM,
    SOURCE,
    CONTROLLER,
    NOTIFIER,
    TOLD,
    WATCHER,
)
