"""What was recorded on the day a beer was packaged."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from fermwatch.model.batch import Batch, Event, EventKind, KegWay, PackageChoice

KEG, PET = "keg", "soda-pet"


@dataclass(frozen=True, slots=True)
class Packaging:
    """How a beer was packaged. None where it was not said.

    kind: of package, as `returnable-glass`. sugar_g_per_l: 0 for none: then bottles stay flat. forced: a keg that takes
    its CO2 from a cylinder, under pressure_bar, gauge.
    stands_by: the probe of the bottle store that it stands in, where there are several.
    conditioning_c: where it was said to condition. storage_c: the warmest that it is to stand.
    declared_safe: whether it was, on that day, this way; left_points, chance_over_limit (0..1): as reckoned then.
    """

    event_id: str
    at: datetime
    kind: str = ""
    volumes: float | None = None
    sugar_g_per_l: float | None = None
    conditioning_c: float | None = None
    storage_c: float | None = None
    pressure_bar: float | None = None
    forced: bool = False
    stands_by: str = ""
    declared_safe: bool | None = None
    left_points: float | None = None
    chance_over_limit: float | None = None

    @property
    def in_keg(self) -> bool:
        return self.kind == KEG

    @property
    def noun(self) -> str:
        return "keg" if self.in_keg else "bottle"

    @property
    def squeezed(self) -> str:
        """Which bottle tells by its hardness how its gas comes along."""
        return "one bottle" if self.kind == PET else "the PET bottle filled along"

    @property
    def primed(self) -> bool:
        """Whether its yeast still has gas to make; where nothing was said of sugar, it has."""
        return not self.forced and (self.sugar_g_per_l is None or self.sugar_g_per_l > 0.0)


def packaging_of(events: Iterable[Event]) -> Packaging | None:
    """The packaging that stands among these events."""
    done = [event for event in events if event.kind is EventKind.PACKAGED and not event.voided]
    if not done:
        return None
    event = max(done, key=lambda one: one.at)
    return Packaging(
        event.id,
        event.at,
        str(event.data.get("package", "")),
        _number(event, "volumes"),
        _number(event, "sugar_g_per_l"),
        _number(event, "conditioning_c"),
        _number(event, "storage_c"),
        _number(event, "pressure_bar"),
        forced=_is_forced(event),
        stands_by=str(event.data.get("stands_by", "")),
        declared_safe=_flag(event, "declared_safe"),
        left_points=_number(event, "left_points"),
        chance_over_limit=_number(event, "chance_over_limit"),
    )


def as_packaged(batch: Batch, packaging: Packaging | None) -> Batch:
    """The batch as meant for the package that it went into: what the verdict of that day is about."""
    if packaging is None or not packaging.kind or packaging.volumes is None:
        return batch
    before = batch.package or PackageChoice(packaging.kind, packaging.volumes)
    limit_bar = before.limit_bar if before.kind == packaging.kind else None
    choice = replace(
        before,
        kind=packaging.kind,
        volumes=packaging.volumes,
        limit_bar=limit_bar,
        storage_c=before.storage_c if packaging.storage_c is None else packaging.storage_c,
        conditioning_c=before.conditioning_c if packaging.conditioning_c is None else packaging.conditioning_c,
        way=KegWay.FORCED if packaging.forced else before.way if packaging.in_keg else None,
    )
    return replace(batch, package=choice)


def _is_forced(event: Event) -> bool:
    way = event.data.get("way")
    if way is None:  # recorded before there were two ways
        return event.data.get("package") == KEG and _number(event, "sugar_g_per_l") == 0.0
    return way == KegWay.FORCED


def _flag(event: Event, key: str) -> bool | None:
    value = event.data.get(key)
    return value if isinstance(value, bool) else None


def _number(event: Event, key: str) -> float | None:
    value = event.data.get(key)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
