"""A packaged beer in time: what it stood at, how far it has conditioned, and the dates to come."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.model.amounts import temperature
from fermwatch.model.packaging import PET, Packaging

DAY = timedelta(days=1)
AT_ITS_BEST, PAST_ITS_BEST = "at its best", "past its best"
SAME_DAYS = 1.0  # less of a difference is not worth a sentence


@dataclass(frozen=True, slots=True)
class Stood:
    """A span that the package stood at a mean temperature."""

    since: datetime
    until: datetime
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Peril:
    """A beer that may burst its package, and what would show that it does not.

    proof_days, proof_c: how long and how warm one has to stand before it shows anything that it is opened calm.
    opened_at: when one was last opened, or all were vented; None: not yet. warm_days: as long as it had stood warm.
    """

    proof_days: float
    proof_c: float
    opened_at: datetime | None = None
    gushed: bool = False
    vented: bool = False
    warm_days: float = 0.0


@dataclass(frozen=True, slots=True)
class Conditioning:
    """Where a packaged beer stands.

    keeping: the kind of beer, as far as keeping goes.
    temperature_c: where it stands now, as last measured at heard_at; None there: as told with the packaging.
    open_at: when to open the first; None where it stands too cold ever to get there. days_to_open: what that takes in
    all from the packaging, of usual_days at reference_c. best_from, best_until: when it is at its best.
    squeeze_at: when to squeeze a PET bottle; empty for a keg and for what has no gas to make.
    peril: of beer that may burst its package. While there is any, there are none of these dates. shown_at: when one
    that was opened showed that there is none any more.
    """

    packaging: Packaging
    keeping: str
    temperature_c: float
    heard_at: datetime | None
    reference_c: float
    usual_days: float
    open_at: datetime | None
    days_to_open: float | None
    best_from: datetime | None
    best_until: datetime | None
    squeeze_at: tuple[datetime, ...]
    peril: Peril | None = None
    shown_at: datetime | None = None

    @property
    def measured(self) -> bool:
        return self.heard_at is not None

    @property
    def asleep(self) -> bool:
        return self.open_at is None and self.peril is None

    @property
    def slower(self) -> bool:
        """Whether it takes longer than usual, so that a person ought to know."""
        return self.days_to_open is not None and self.days_to_open > self.usual_days + SAME_DAYS

    def pace_words(self) -> str:
        """What where it stands does to its conditioning, with the number; empty where that is as usual."""
        where = f"{temperature(self.temperature_c, None)}{'' if self.measured else ', as planned,'}"
        usual = f"{self.usual_days:.0f} at {temperature(self.reference_c, None)}"
        if self.asleep:
            return f"at {where} it hardly conditions: {usual.replace(' at', ' days at', 1)} would do"
        if self.slower and self.days_to_open is not None:
            return f"at {where} it takes about {self.days_to_open:.0f} days instead of {usual}"
        return ""

    def dates(self) -> list[tuple[datetime, str]]:
        """What is to be done or known of it, in time order."""
        bottle = "one bottle" if self.packaging.kind == PET else "the PET bottle"
        found = [(at, f"squeeze {bottle} (day {(at - self.packaging.at) / DAY:.0f})") for at in self.squeeze_at]
        if self.open_at is not None:
            found.append((self.open_at, "draw the first glass" if self.packaging.in_keg else "open the first"))
        if self.best_from is not None:
            found.append((self.best_from, AT_ITS_BEST))
        if self.best_until is not None:
            found.append((self.best_until, PAST_ITS_BEST))
        return sorted(found, key=lambda one: one[0])

    def next_date(self, now: datetime) -> tuple[datetime, str] | None:
        return next(((at, what) for at, what in self.dates() if at > now), None)
