"""A packaged beer: how far it has conditioned, and the dates to come. Pure: temperatures and `now` in, dates out.

It condenses what it stood at since it was packaged into days at the temperature that its figures hold at, and takes it
to stand on where it stands now.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from fermwatch.brewing.too_early import peril_of
from fermwatch.model.batch import Batch, Event, EventKind, PackageChoice
from fermwatch.model.conditioning import DAY, Conditioning, Peril, Stood
from fermwatch.model.packaging import Packaging
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.model.warmest import conditioning_c
from fermwatch.science.conditioning import (
    FIGURES,
    FORCED_DAYS,
    SQUEEZE_DAYS,
    Figures,
    keeping_of,
    pace,
    staling,
)

ASLEEP = 0.2  # a pace below which nothing worth waiting for happens
LONGEST_DAYS = 3650.0


def conditioning_of(
    batch: Batch,
    packaging: Packaging,
    events: Iterable[Event],
    now: datetime,
    settings: RuleSettings,
    stood: Sequence[Stood] = (),
) -> Conditioning:
    """How it goes with a packaged beer. `stood` is what was measured where it stands, in time order."""
    said = tuple(events)
    yeast = batch.yeast
    keeping = keeping_of(
        batch.original_sg,
        lager=yeast.bottom_fermenting,
        dry_hopped=any(event.kind is EventKind.DRY_HOP and not event.voided for event in said),
        wild="brett" in f"{yeast.kind} {yeast.name}".lower(),
    )
    usual = conditioning_c(PackageChoice("", 0.0), yeast)
    said_c = packaging.storage_c if packaging.forced else packaging.conditioning_c
    told = usual if said_c is None else said_c
    here = _lately_c(stood) if stood else told
    days = _days(packaging, FIGURES[keeping], settings)

    def paced(celsius: float) -> float:
        return pace(celsius, usual, yeast.temperature_low_c)

    proof = Peril(FIGURES[keeping].open_days, usual)
    peril, shown_at = peril_of(packaging, said, proof, lambda since, until: _worth_days(stood, since, until, paced))
    began = packaging.at if stood or shown_at is None else shown_at  # kept cold until then, it has not conditioned
    fixed = settings.conditioning_days > 0.0 or not packaging.primed

    def reached(wanted_days: float) -> datetime | None:
        if fixed:
            return began + wanted_days * DAY
        return _reached(wanted_days, began, stood, paced, here, now)

    open_at = reached(days.open_days)
    known = Conditioning(
        packaging=packaging,
        keeping=str(keeping),
        temperature_c=stood[-1].temperature_c if stood else told,
        heard_at=stood[-1].until if stood else None,
        reference_c=usual,
        usual_days=days.open_days,
        open_at=open_at,
        days_to_open=None if open_at is None else (open_at - began) / DAY,
        best_from=reached(days.ripe_days),
        best_until=_best_until(packaging, days.fresh_days, settings, stood, here, now),
        squeeze_at=tuple(began + day * DAY for day in SQUEEZE_DAYS)
        if packaging.primed and not packaging.in_keg and open_at is not None
        else (),
        shown_at=shown_at,
    )
    return known if peril is None else _dateless(known, peril)


def _dateless(known: Conditioning, peril: Peril) -> Conditioning:
    """Beer that may burst its package has no day on which it is ready, and none to be warmed for."""
    return replace(known, open_at=None, days_to_open=None, best_from=None, best_until=None, squeeze_at=(), peril=peril)


def _worth_days(stood: Sequence[Stood], since: datetime, until: datetime, paced: Callable[[float], float]) -> float:
    """Days at the usual temperature that what was measured between two instants is worth."""
    return sum(
        (min(one.until, until) - max(one.since, since)) / DAY * paced(one.temperature_c)
        for one in stood
        if one.until > since and one.since < until
    )


def _lately_c(stood: Sequence[Stood]) -> float:
    """The mean of the last day measured: what is taken to go on, whatever the hour of the day."""
    recent = [span for span in stood if span.until > stood[-1].until - DAY]
    whole = sum((span.until - span.since) / DAY for span in recent)
    return sum(span.temperature_c * ((span.until - span.since) / DAY) for span in recent) / max(whole, 1e-9)


def _days(packaging: Packaging, figures: Figures, settings: RuleSettings) -> Figures:
    """The figures for this package; a person's own go before."""
    open_days, ripe_days = figures.open_days, figures.ripe_days
    if packaging.forced:
        open_days, ripe_days = FORCED_DAYS
    elif not packaging.primed:
        open_days = ripe_days = 0.0  # without sugar it stays as it is
    elif settings.conditioning_days > 0.0:
        open_days = settings.conditioning_days
        ripe_days = max(open_days, ripe_days)
    return Figures(open_days, ripe_days, settings.best_within_days or figures.fresh_days)


def _best_until(
    packaging: Packaging,
    fresh_days: float,
    settings: RuleSettings,
    stood: Sequence[Stood],
    here_c: float,
    now: datetime,
) -> datetime:
    if settings.best_within_days > 0.0:
        return packaging.at + fresh_days * DAY
    if not stood and packaging.storage_c is not None:
        here_c = min(here_c, packaging.storage_c)
    reached = _reached(fresh_days, packaging.at, stood, staling, here_c, now)
    return packaging.at + LONGEST_DAYS * DAY if reached is None else reached


def _reached(
    wanted_days: float,
    began: datetime,
    stood: Sequence[Stood],
    pace_at: Callable[[float], float],
    here_c: float,
    now: datetime,
) -> datetime | None:
    """When the wanted days are made up, each day counted by its pace; None where it stands too cold ever to be."""
    done, at = 0.0, began
    for span in (*stood, Stood(max(now, began), max(now, began), here_c)):
        for until, celsius in ((span.since, here_c), (span.until, span.temperature_c)):
            if until <= at:
                continue
            made = (until - at) / DAY * pace_at(celsius)
            if done + made >= wanted_days:
                return at + (wanted_days - done) / pace_at(celsius) * DAY
            done, at = done + made, until
    going = pace_at(here_c)
    left_days = (wanted_days - done) / going
    return None if going < ASLEEP or left_days > LONGEST_DAYS else at + left_days * DAY
