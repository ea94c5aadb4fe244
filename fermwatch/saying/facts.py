"""What there is to say of one fermenter, in words and bare numbers: nothing here knows where it will stand."""

from dataclasses import dataclass, replace
from datetime import datetime
from operator import attrgetter

from fermwatch.contracts.feed import Lane
from fermwatch.model.finding import Alarm, Severity
from fermwatch.model.intent import ON_ITS_WAY, RULES_OF_SIDES, Band, Side, band_of, outside
from fermwatch.model.quantity import Quantity
from fermwatch.saying import intended, quiet, words
from fermwatch.saying.controlled import AtWork, at_work
from fermwatch.saying.ink import Ink
from fermwatch.saying.judged import (
    done_spread,
    done_words,
    next_step,
    phase_reason,
    phase_words,
    verdict_ink,
    verdict_sentence,
    verdict_words,
)
from fermwatch.saying.measured import (
    Ending,
    Shown,
    attenuation,
    beer_shown,
    ending,
    estimate_sg,
    gravity_remark,
    gravity_shown,
    newest,
    probe_words,
    rate_words,
    shown,
)
from fermwatch.saying.planned import plan_words, view_of
from fermwatch.saying.voice import Voice

LONGEST_REMEDY = 1000  # characters
_SEVERITY_INK = {Severity.CRITICAL: Ink.CRITICAL, Severity.WARNING: Ink.WARNING, Severity.ADVICE: Ink.ADVICE}


@dataclass(frozen=True, slots=True)
class AlarmFacts:
    """One alarm. `ink` is a colour only while somebody is needed."""

    alarm: Alarm
    mark: str
    ink: Ink
    statement: str
    remedy: str
    brief: str  # for where there is room for two words only
    state: str  # "since today 16:40", "over since ..., not seen yet"
    began: str  # "16:40", "Mon 15:14"


@dataclass(frozen=True, slots=True)
class LaneFacts:
    name: str
    batch: str
    day: str
    beer: Shown
    set_point_c: float | None
    range_c: tuple[float, float] | None  # where the beer should be: the yeast's range, or what was declared
    range_name: str
    planned: str  # "planned rest at 17.0 °C until Sun 18:00"; empty where nothing is
    original_sg: float | None
    gravity: Shown
    ending: Ending | None
    attenuation: float | None
    estimate_sg: float | None  # what that is reckoned of, where the probe that is shown is known to be off
    phase: str
    phase_reason: str
    rate: str
    done: str
    done_spread: str
    gravity_remark: str  # what must be said beside the gravity, as that its probe says something else
    verdict: str
    sentence: str
    step: str  # the next step, with its time
    verdict_ink: Ink
    controllers: tuple[AtWork, ...]
    alarms: tuple[AlarmFacts, ...]
    quiet: tuple[AlarmFacts, ...]  # alarms that stand and are quiet on purpose
    kept_quiet: str  # those of them that somebody has shelved or taken out of service
    probes: str
    probes_ink: Ink

    @property
    def step_sentence(self) -> str:
        return f"{self.step[:1].upper()}{self.step[1:]}"

    @property
    def ink(self) -> Ink:
        """The colour of the whole lane: its gravest unseen alarm's."""
        return self.alarms[0].ink if self.alarms and self.alarms[0].alarm.needs_attention else Ink.PLAIN


def lane_facts(lane: Lane, now: datetime, voice: Voice) -> LaneFacts:
    batch = lane.batch
    alarms = tuple(alarm_facts(alarm, now, voice) for alarm in worth_showing(lane.alarms))
    probes, probes_ink = probe_words(lane.probes)
    beer = beer_shown(lane, now, voice)
    measured = gravity_shown(lane, now)
    meant = band(lane, now)
    return LaneFacts(
        name=voice.text(lane.vessel.name or lane.vessel.slug),
        batch=voice.text(batch.name) if batch else "empty",
        day=words.beer_day(batch.pitched_at, now, voice) if batch else "",
        beer=replace(beer, remark=voice.text(beer.remark)),
        set_point_c=shown(newest(lane.probes, Quantity.SET_POINT), "").value,
        range_c=(meant.low_c, meant.high_c) if meant else None,
        range_name=meant.name if meant else "",
        planned=_planned(lane, now, voice),
        original_sg=batch.original_sg if batch else None,
        gravity=replace(measured, remark=voice.text(measured.remark)),
        ending=ending(lane, measured),
        attenuation=attenuation(lane, measured, now),
        estimate_sg=estimate_sg(lane, measured),
        phase=phase_words(lane.judgement, now, voice),
        phase_reason=phase_reason(lane.judgement, voice),
        rate=rate_words(lane, voice),
        done=done_words(lane.judgement, now),
        done_spread=done_spread(lane.judgement, now),
        verdict=verdict_words(lane),
        sentence=verdict_sentence(lane, voice),
        step=next_step(lane, now, voice),
        gravity_remark=gravity_remark(lane, voice),
        verdict_ink=verdict_ink(lane.judgement),
        controllers=tuple(at_work(one, now, voice) for one in lane.controllers),
        alarms=alarms,
        quiet=quiet_alarms(lane.alarms, now, voice),
        kept_quiet=_kept_quiet(lane.alarms, now, voice),
        probes=voice.text(probes),
        probes_ink=probes_ink,
    )


def _planned(lane: Lane, now: datetime, voice: Voice) -> str:
    """The plan that is under way; what was declared beside it, or without one."""
    view = view_of(lane.batch, lane.judgement, lane.events, now)
    declared = intended.course_words(lane.course, now, voice) if lane.batch else ""
    if view is None:
        return declared
    step, meant = view.progress.step, lane.course.meant
    own = meant is not None and step is not None and meant.target_c == step.target_c
    return "; ".join(part for part in (plan_words(view, now, voice), "" if own else declared) if part)


def worth_showing(alarms: tuple[Alarm, ...]) -> list[Alarm]:
    """Alarms that stand, or are over and were not seen, unless quiet on purpose: those that call somebody first, then
    what stands, by gravity and by age.
    """
    wanted = [alarm for alarm in alarms if (alarm.stands or _over_unseen(alarm)) and not alarm.is_quiet]
    return sorted(wanted, key=attrgetter("urgency"))


def _over_unseen(alarm: Alarm) -> bool:
    """The feed leaves out those that have been over for long."""
    return alarm.unseen and alarm.cleared_at is not None and alarm.severity is not Severity.ADVICE


def quiet_alarms(alarms: tuple[Alarm, ...], now: datetime, voice: Voice) -> tuple[AlarmFacts, ...]:
    """Those that stand and are quiet on purpose, whoever or whatever decided it; what another alarm tells is told."""
    return tuple(alarm_facts(alarm, now, voice) for alarm in alarms if alarm.stands_quietly)


def _kept_quiet(alarms: tuple[Alarm, ...], now: datetime, voice: Voice) -> str:
    """too warm shelved until 14:00; of several, how many."""
    kept = quiet.kept_quiet(alarms)
    if len(kept) != 1:
        return quiet.counted(kept, now, voice)
    return f"{_brief(kept[0], voice)} {quiet.quiet_words(replace(kept[0], shelved_by=''), now, voice)}"


def _brief(alarm: Alarm, voice: Voice) -> str:
    return words.RULE_WORDS.get(alarm.rule) or voice.text(alarm.rule.replace("-", " "))


def band(lane: Lane, now: datetime) -> Band | None:
    """Where its beer should be: the yeast's range, or the rest, ramp or crash that was declared."""
    return None if lane.batch is None else band_of(lane.batch.yeast, lane.course, now)


def out_of_range(lane: Lane, now: datetime) -> str:
    """above, below, or empty: where the beer is by a reading that can be believed."""
    beer, meant = beer_shown(lane, now, Voice()), band(lane, now)
    if meant is None or beer.value is None or beer.faulty:
        return ""
    phase = lane.judgement.phase.phase if lane.judgement is not None and lane.judgement.phase is not None else None
    side = outside(beer.value, meant, phase)
    return "" if side is None or _on_its_way(lane, side) else side


def _on_its_way(lane: Lane, side: Side) -> bool:
    """Whether its rule keeps that quiet, as of a beer that goes toward what was declared."""
    rule = RULES_OF_SIDES[side]
    return any(one.rule == rule and one.stands and one.suppressed_by.startswith(ON_ITS_WAY) for one in lane.alarms)


def alarm_facts(alarm: Alarm, now: datetime, voice: Voice) -> AlarmFacts:
    attention = alarm.needs_attention
    return AlarmFacts(
        alarm=alarm,
        mark=words.SEVERITY_MARKS[alarm.severity],
        ink=_SEVERITY_INK[alarm.severity] if attention else Ink.PLAIN,
        statement=voice.text(alarm.statement or alarm.rule),
        remedy=voice.text(alarm.remedy, LONGEST_REMEDY) if alarm.stands else "",
        brief=_brief(alarm, voice),
        state=_alarm_state(alarm, now, voice),
        began=words.brief_moment(alarm.raised_at or alarm.since, now, voice),
    )


def _alarm_state(alarm: Alarm, now: datetime, voice: Voice) -> str:
    if why := quiet.quiet_words(alarm, now, voice):
        return f"quiet: {why}"
    if not alarm.stands:
        over = f"over since {words.moment(alarm.cleared_at, now, voice)}" if alarm.cleared_at else "over"
        return over if alarm.acknowledged_at else f"{over}, not seen yet"
    began = alarm.raised_at or alarm.since
    said = f"since {words.moment(began, now, voice)}" if began else ""
    if alarm.last_known:
        said += ", by what was last heard"
    if alarm.acknowledged_at is not None:
        said += f", seen by {voice.text(alarm.acknowledged_by, 20) or 'somebody'}"
    return said.removeprefix(", ")
