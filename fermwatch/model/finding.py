"""What the deciding code says: evidence, findings, alarms and verdicts, each with the numbers it rests on."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum


class Severity(StrEnum):
    ADVICE = "advice"
    WARNING = "warning"
    CRITICAL = "critical"


@dataclass(frozen=True, slots=True)
class Evidence:
    """One gate of a decision: what was asked, the number that answers, whether it is met, and what would meet it."""

    name: str
    met: bool
    statement: str
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a rule says now.

    subject: what it is about, as `kind:slug` (`vessel:left`, `probe:left-beer`, `batch:<id>`, `source:board`).
    holds: True while the condition stands, False when shown to be over, None where there is no data to tell: which
    never clears an alarm.
    statement: one line with its numbers. remedy: what to do.
    quiet_because: why it should not call anybody although it holds ("cold after finishing does no harm").
    """

    rule: str
    subject: str
    holds: bool | None
    severity: Severity = Severity.WARNING
    statement: str = ""
    remedy: str = ""
    quiet_because: str = ""


@dataclass(frozen=True, slots=True)
class Timing:
    """How long a finding must hold before the alarm is raised, and be over before it is cleared."""

    on_delay: timedelta = timedelta()
    off_delay: timedelta = timedelta()
    critical_on_delay: timedelta | None = None  # None: as on_delay

    def until_critical(self) -> timedelta:
        return self.on_delay if self.critical_on_delay is None else self.critical_on_delay


class Condition(StrEnum):
    """Whether the thing itself is so (after ISA-18.2 and IEC 62682: kept apart from whether anybody has seen it)."""

    NORMAL = "normal"
    PENDING = "pending"  # holds, but not yet for as long as it must
    RAISED = "raised"
    CLEARING = "clearing"  # over, but not yet for as long as it must be


@dataclass(frozen=True, slots=True)
class Alarm:
    """A finding that needs a person. One per (rule, subject); a repeat is the next `occurrence`.

    worse_since: since when the finding has held as critical, while the alarm is not yet critical itself.
    last_known: the evidence is stale, the alarm stands on what was last heard.
    unknown_since: since when there is no data to tell by, so that the timers stand still.
    shelved_until, out_of_service, suppressed_by: why it is quiet; it goes on being evaluated and recorded all the same.
    """

    rule: str
    subject: str
    condition: Condition = Condition.NORMAL
    severity: Severity = Severity.WARNING
    since: datetime | None = None  # start of the present condition
    worse_since: datetime | None = None
    raised_at: datetime | None = None
    cleared_at: datetime | None = None
    acknowledged_at: datetime | None = None
    acknowledged_by: str = ""
    occurrence: int = 0
    last_known: bool = False
    unknown_since: datetime | None = None
    shelved_until: datetime | None = None
    shelved_by: str = ""
    out_of_service: bool = False
    suppressed_by: str = ""
    statement: str = ""
    remedy: str = ""

    @property
    def stands(self) -> bool:
        return self.condition in {Condition.RAISED, Condition.CLEARING}

    @property
    def needs_attention(self) -> bool:
        """Raised, or cleared without anybody having seen it; and not quiet on purpose. Advice that is over is over."""
        worth_seeing = self.stands or self.severity is not Severity.ADVICE
        unseen = self.occurrence > 0 and self.acknowledged_at is None and worth_seeing
        quiet = self.shelved_until is not None or self.out_of_service or bool(self.suppressed_by)
        return unseen and not quiet


class Phase(StrEnum):
    LAG = "lag"
    ACTIVE = "active"
    SLOWING = "slowing"
    TERMINAL = "terminal"
    CONDITIONING = "conditioning"
    PACKAGED = "packaged"
    NOT_STARTED = "not-started"
    STALLED = "stalled"
    RESTARTED = "restarted"


class VerdictKind(StrEnum):
    NOT_YET = "not-yet"
    CONFIRM = "confirm"
    SAFE = "safe"
    HOLD = "hold"
