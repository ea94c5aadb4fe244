"""How warm a beer should be, how warm it is, what the fridge does about it and whether it manages; and where nothing
switches it, what to set by hand and when.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fermwatch.brewing.planning import next_step
from fermwatch.contracts.feed import Curves, Lane
from fermwatch.contracts.store import Bucket, ControllerStatus, JournalEntry
from fermwatch.model.amounts import temperature, warmth
from fermwatch.model.degree import Degree
from fermwatch.model.finding import Alarm
from fermwatch.model.quantity import Quantity
from fermwatch.model.subject import About
from fermwatch.saying import words
from fermwatch.saying.controlled import DOES, UNSEEN_AFTER, waits_words
from fermwatch.saying.facts import alarm_facts, band
from fermwatch.saying.ink import Ink
from fermwatch.saying.measured import beer_shown, newest
from fermwatch.saying.planned import PlanView, ahead, view_of
from fermwatch.saying.voice import Voice
from fermwatch.saying.watch import Said

HOLDS_C = 0.5  # of what is wanted: a lagging plant swings so far
MOVES_C_PER_H = 0.1
AS_SET_C = 0.3
HOUR = timedelta(hours=1)
JOURNAL_KINDS = ("control", "switch")
# What tells that the temperature is not managed, the gravest of them.
RULES = (
    "heat-against-cool",
    "without-effect",
    "set-point-not-written",
    "temperature-high",
    "temperature-low",
    "near-freezing",
    "away-from-set-point",
    "cycling",
    "leaving-range",
    "set-by-plan",
    "plan-waits",
)


@dataclass(frozen=True, slots=True)
class Regulation:
    """headline: whether it manages, in one sentence. to_do: what a person does about it; empty for nothing.

    rows: what is wanted, is and is done, each with its name. by: per controller how far fermwatch may go, and by whose
    word. done: what was written or switched last, the newest first.
    """

    headline: Said
    to_do: str
    rows: tuple[tuple[str, str], ...]
    by: tuple[str, ...] = ()
    done: tuple[str, ...] = ()


def regulation(
    lane: Lane, now: datetime, voice: Voice, curves: Curves | None = None, journal: Sequence[JournalEntry] = ()
) -> Regulation:
    view = view_of(lane.batch, lane.judgement, lane.events, now)
    headline, to_do = _headline(lane, view, now, voice)
    return Regulation(
        headline,
        to_do,
        tuple(row for row in _rows(lane, view, curves, now, voice) if row[1]),
        tuple(by_words(one, now, voice) for one in lane.controllers),
        tuple(_done(lane, journal, now, voice)),
    )


def _headline(lane: Lane, view: PlanView | None, now: datetime, voice: Voice) -> tuple[Said, str]:
    alarm = gravest(lane)
    if alarm is not None:
        facts = alarm_facts(alarm, now, voice)
        return Said(facts.statement, facts.ink, facts.mark), facts.remedy
    if lane.batch is None:
        return Said("No beer is in it: there is nothing to regulate."), ""
    if not lane.controllers:
        return _by_hand(lane, view, now, voice)
    unseen = [one for one in lane.controllers if one.at is None or now - one.at > UNSEEN_AFTER]
    if unseen:
        return _unseen(unseen[0], now, voice), "Look at the health page (g), and at the controller itself."
    return Said(_manages(lane, now, voice)), ""


def gravest(lane: Lane) -> Alarm | None:
    """Of what tells that it is not managed, also where somebody has seen it, what needs somebody first."""
    told = [one for one in lane.alarms if one.rule in RULES and one.stands and not one.is_quiet]
    return min(told, key=lambda one: (one.urgency, RULES.index(one.rule)), default=None)


def _unseen(status: ControllerStatus, now: datetime, voice: Voice) -> Said:
    name = voice.text(status.name)
    since = "yet" if status.at is None else f"since {words.moment(status.at, now, voice)}"
    return Said(f"{name} was not seen {since}: what it does is not known.", Ink.WARNING, "!")


def _manages(lane: Lane, now: datetime, voice: Voice) -> str:
    """It holds, is on its way, or is away with nothing wrong yet."""
    aim_c = next((one.aim_c for one in lane.controllers if one.aim_c is not None), None)
    beer = beer_shown(lane, now, voice)
    if aim_c is None:
        return "The set point is not known: nobody can say whether it manages."
    if beer.value is None or beer.remark:
        return f"The beer is not heard: nobody can say whether it holds {voice.temperature(aim_c)}."
    apart, moves = beer.value - aim_c, change_per_hour(lane.beer_curve)
    if abs(apart) <= HOLDS_C:
        return f"It holds the beer at {voice.temperature(aim_c)}."
    side = "above" if apart > 0.0 else "below"
    far = voice.text(warmth(abs(apart)))
    comes = moves is not None and abs(moves) >= MOVES_C_PER_H and (moves < 0.0) == (apart > 0.0)
    if comes and moves is not None:
        hours = abs(apart) / abs(moves)
        return f"The beer is {far} {side} {voice.temperature(aim_c)}, on its way: there in about {hours:.0f} h."
    nearer = "" if moves is None else ", and comes no nearer"  # of what is heard for less than an hour nobody can say
    return f"The beer is {far} {side} {voice.temperature(aim_c)}{nearer}."


def _nobody_sets(lane: Lane) -> str:
    shows = newest(lane.probes, Quantity.SET_POINT)
    if shows is not None and shows.value is not None:
        return "No plan: its controller goes by its own set point, which is only read."
    return "No controller and no plan: its temperature is held by hand."


def _by_hand(lane: Lane, view: PlanView | None, now: datetime, voice: Voice) -> tuple[Said, str]:
    """What to set by hand; where nothing says so, the one next step."""
    wanted = None if view is None else view.progress.set_point_c(now)
    if view is None or wanted is None:
        slug = lane.vessel.slug
        return (
            Said(_nobody_sets(lane)),
            f"A plan says what to set, and when: fermwatch plan preview {slug}, then fermwatch plan use {slug}.",
        )
    shows = newest(lane.probes, Quantity.SET_POINT)
    if shows is not None and shows.value is not None and abs(shows.value - wanted) <= AS_SET_C:
        return Said(f"It stands at {voice.temperature(shows.value)}, as the plan wants."), next_by_hand(
            view, now, voice
        )
    return Said(set_by_hand(wanted, voice)), next_by_hand(view, now, voice)


def set_by_hand(target_c: float, voice: Voice) -> str:
    return f"Set the fridge to {voice.temperature(target_c)} by hand."


def next_by_hand(view: PlanView, now: datetime, voice: Voice) -> str:
    """What to set next, and when, as far as anything tells; an alarm says so when it is time."""
    following = next_step(view.progress)
    if following is None or view.progress.held:
        return ""
    first = next(ahead(view, now), None)
    target = voice.text(temperature(following.target_c, None))
    if first is None or first.at is None:
        return f"Next {target}, once that is met which this step waits for; an alarm tells when."
    when = words.moment(first.at, now, voice).removeprefix("on ")
    return f"Next {target}, about {when}; an alarm tells when it is time."


def change_per_hour(beer: Sequence[Bucket]) -> float | None:
    """°C by which the beer moved within its last hour."""
    if not beer:
        return None
    last = beer[-1]
    before = [one for one in beer if one.at <= last.at - HOUR]
    if not before or last.at - before[-1].at > 2 * HOUR:
        return None
    return (last.mean - before[-1].mean) / ((last.at - before[-1].at) / HOUR)


def _rows(
    lane: Lane, view: PlanView | None, curves: Curves | None, now: datetime, voice: Voice
) -> list[tuple[str, str]]:
    beer, moves = beer_shown(lane, now, voice), change_per_hour(lane.beer_curve)
    is_now = f"- {beer.remark}" if beer.value is None else f"{voice.temperature(beer.value)} {beer.remark}".strip()
    if beer.value is not None and moves is not None and not beer.remark:
        way = "rising" if moves > 0.0 else "falling"
        is_now += f", {way} {voice.text(warmth(abs(moves)))} an hour" if abs(moves) >= MOVES_C_PER_H else ", steady"
    return [
        ("wanted", _wanted(lane, view, now, voice)),
        ("beer", is_now),
        ("set to", _set_to(lane, voice)),
        ("does", _does(lane, curves, voice)),
    ]


def _wanted(lane: Lane, view: PlanView | None, now: datetime, voice: Voice) -> str:
    planned_c = None if view is None else view.progress.set_point_c(now)
    if planned_c is not None:
        return f"{voice.temperature(planned_c)} by the plan"
    meant = band(lane, now)
    return "" if meant is None else f"{voice.temperature_range(meant.low_c, meant.high_c)}, {meant.name}"


def _set_to(lane: Lane, voice: Voice) -> str:
    shown = [one for one in lane.controllers if one.degree is not Degree.DRIVE]
    told = [one.set_point_c for one in shown if one.set_point_c is not None]
    if told:
        return ", ".join(voice.temperature(one) for one in told)
    probe = newest(lane.probes, Quantity.SET_POINT)
    if probe is None or probe.value is None:
        return ""
    age = f", {words.ago(probe.age_s)}" if probe.age_s is not None and probe.flagged else ""
    return f"{voice.temperature(probe.value)}{age}"


def _does(lane: Lane, curves: Curves | None, voice: Voice) -> str:
    """What is on now, and for which share of what the curves cover."""
    shown = [one.on for one in lane.controllers if one.on is not None]
    said = [" and ".join(DOES[output] for output in on) or "nothing is on" for on in shown]
    for name, data in (("cooled", curves.cool), ("heated", curves.heat)) if curves is not None else ():
        share = _share(data)
        if share is not None:
            said.append(f"{name} {share * 100:.0f} % of the last day")
    said += [waits_words(one, voice) for one in lane.controllers if one.waits]
    return ", ".join(said)


def _share(data: Sequence[Bucket]) -> float | None:
    count = sum(one.count for one in data)
    return sum(one.mean * one.count for one in data) / count if count else None


def by_words(one: ControllerStatus, now: datetime, voice: Voice) -> str:
    """How far fermwatch may go with it, within what, and who said so."""
    name = voice.text(one.name)
    limits = ""
    if one.low_c is not None and one.high_c is not None:
        limits = f", within {voice.temperature_range(one.low_c, one.high_c)}"
    by = f"{voice.text(one.said_by, 40)}, {words.moment(one.said_at, now, voice)}" if one.said_at is not None else ""
    if one.degree is Degree.OBSERVE:
        since = f", by {by}" if by else ""
        if one.at_most is Degree.OBSERVE:
            return f"{name} is only read{since}: the configuration allows no more."
        return f"{name} is only read{since}. fermwatch controller arm {name} lets it follow the plan{limits}."
    does = "fermwatch switches its outputs" if one.degree is Degree.DRIVE else "fermwatch sets its set point"
    return f"{name}: {does} by the plan{limits}. Armed by {by}."


def _done(lane: Lane, journal: Sequence[JournalEntry], now: datetime, voice: Voice) -> list[str]:
    subjects = {About.CONTROLLER.of(one.name) for one in lane.controllers}
    return [
        f"{words.moment(one.at, now, voice)}: {voice.text(one.text)}"
        for one in journal
        if one.subject in subjects and one.kind in JOURNAL_KINDS
    ]
