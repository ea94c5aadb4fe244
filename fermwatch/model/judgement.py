"""What is judged of a batch at one instant: trend, phase, forecast and verdict."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.model.finding import Evidence, Phase, VerdictKind


@dataclass(frozen=True, slots=True)
class Trend:
    """Where gravity is and where it is going, each with its standard deviation. A negative rate is falling.

    gravity_sg: what is concluded for `at` from all that was measured until then.
    estimated: nothing measured is fresh enough to speak of `at`: gravity and rate are then an estimate, bounded by what
    the yeast can do, and only `measured_sg` with its age may be called the gravity. No rate is worth saying.
    measured_sg: the last gravity that somebody or something measured; None in what was stored by an older version.
    measured_by: "probe", "hydrometer" or "refractometer".
    apparent_attenuation: by what was measured, never by the estimate.
    original_sg: the original gravity with the sugars that were added, which attenuation is reckoned from; None in what
    was stored by an older version.
    remark: what must be said beside the gravity, as that the probe reads something else.
    """

    at: datetime
    gravity_sg: float
    gravity_sd_points: float
    rate_points_per_day: float
    rate_sd_points_per_day: float
    apparent_attenuation: float
    probe_offset_points: float | None = None
    probe_offset_sd_points: float | None = None
    probe_drift_points_per_day: float | None = None
    probe_drift_sd_points_per_day: float | None = None
    temperature_share: float | None = None
    foam_points: float | None = None
    temperature_c: float | None = None
    measured_sg: float | None = None
    measured_at: datetime | None = None
    measured_by: str = ""
    estimated: bool = False
    remark: str = ""
    original_sg: float | None = None


@dataclass(frozen=True, slots=True)
class PhaseStatement:
    """The phase, since when, its likely reason where it is not a healthy one, and what it rests on."""

    phase: Phase
    since: datetime
    reason: str = ""
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class Forecast:
    """Terminal gravity and when the beer is within 1 point of it; `low` and `high` bound the 90 % interval.

    None of them is above the present gravity, but for the uncertainty of that. basis: "course" where it rests on the
    course of the beer; "yeast" where the beer has stopped short, and this is what its yeast should still do.
    rests_on: the brewer's own earlier batches that count in it, in words; empty without any.
    """

    at: datetime
    terminal_sg: float
    low_sg: float
    high_sg: float
    done_at: datetime | None = None
    done_low: datetime | None = None
    done_high: datetime | None = None
    cannot_know: tuple[str, ...] = ()
    basis: str = "course"
    rests_on: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """May this beer go into this package?

    reasons: what is not met, or what it rests on, the most telling first.
    next_reading_at: when the next hydrometer reading would settle it; `next_reading_why` says how.
    sentence: the verdict in one sentence, as a brewer would say it.
    next_step: the one thing to do or to wait for; next_at: when, where that is known and not now.
    next_beside: what is to be done meanwhile, with a time of its own.
    safe_from: the earliest that it may be called safe as things stand; None where nothing tells, and where it is.
    withdrawn: why it is not safe any more, though it was found so and nobody did anything with it; empty else.
    """

    kind: VerdictKind
    since: datetime
    reasons: tuple[str, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    next_reading_at: datetime | None = None
    next_reading_why: str = ""
    sentence: str = ""
    next_step: str = ""
    next_at: datetime | None = None
    safe_from: datetime | None = None
    next_beside: str = ""
    withdrawn: str = ""

    @property
    def next_steps(self) -> str:
        """All that is to be done, without its times."""
        return " ".join(part for part in (self.next_step, self.next_beside) if part)


@dataclass(frozen=True, slots=True)
class Judgement:
    """All of it at `at`. Parts are None where there is not yet anything to judge by."""

    at: datetime
    trend: Trend | None = None
    phase: PhaseStatement | None = None
    forecast: Forecast | None = None
    verdict: Verdict | None = None
