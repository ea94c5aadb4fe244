"""What the deciding code says: evidence, findings, alarms and verdicts, each with the numbers it rests on."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

LINGERS = timedelta(hours=24)
NO_MORE = "what it was about is no more"  # of an alarm whose beer, probe or fermenter is gone: its end is no news


class Severity(StrEnum):
    ADVICE = "advice"
    WARNING = "warning"
    CRITICAL = "critical"

    @property
    def rank(self) -> int:
        return (Severity.ADVICE, Severity.WARNING, Severity.CRITICAL).index(self)


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
    told_by: the rule whose alarm tells of the same cause; while that one does, this one is not listed beside it.
    """

    rule: str
    subject: str
    holds: bool | None
    severity: Severity = Severity.WARNING
    statement: str = ""
    remedy: str = ""
    quiet_because: str = ""
    told_by: str = ""


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
    cleared_at: when it was last over. last_known: the evidence is stale, the alarm stands on what was last heard.
    unknown_since: since when there is no data to tell by, so that the timers stand still.
    shelved_until, out_of_service, suppressed_by: why it is quiet; it goes on being evaluated and recorded all the same.
    told_by: the rule whose alarm tells of the same cause, so that one cause is one line.
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
    out_of_service_since: datetime | None = None
    out_of_service_by: str = ""
    suppressed_by: str = ""
    told_by: str = ""
    statement: str = ""
    remedy: str = ""

    @property
    def stands(self) -> bool:
        return self.condition in {Condition.RAISED, Condition.CLEARING}

    @property
    def kept_quiet(self) -> bool:
        """By a person's word, whether it stands or not."""
        return self.shelved_until is not None or self.out_of_service

    @property
    def is_quiet(self) -> bool:
        """On purpose: by a person's word, or by its rule's."""
        return self.kept_quiet or bool(self.suppressed_by)

    @property
    def stands_quietly(self) -> bool:
        """It is to be listed as quiet: what another alarm tells of is told by that one."""
        return self.stands and self.is_quiet and not self.told_by

    @property
    def unseen(self) -> bool:
        return self.occurrence > 0 and self.acknowledged_at is None

    @property
    def needs_attention(self) -> bool:
        """It stands, nobody has seen it, and it is not quiet on purpose. What is over calls nobody any more."""
        return self.stands and self.unseen and not self.is_quiet

    def lingers(self, now: datetime) -> bool:
        """Over, and told of calmly for a day, since nobody saw it while it stood. Advice that is over is over."""
        over = self.cleared_at if self.unseen and not self.stands and not self.is_quiet else None
        return over is not None and self.severity is not Severity.ADVICE and now - over < LINGERS

    @property
    def urgency(self) -> tuple[bool, bool, int, float, str, str]:
        """The order of alarms everywhere: what calls somebody, then what stands, the worst first, then the oldest."""
        raised = self.raised_at.timestamp() if self.raised_at else 0.0
        return not self.needs_attention, not self.stands, -self.severity.rank, raised, self.rule, self.subject


CONDITIONING_AFTER_H = 72.0  # of being finished, a beer is said to mature


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
