"""Which earlier batches of the brewer's count, and where they ended."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import pytest

from fermwatch.judgement.earlier import own_ends
from fermwatch.judgement.facts import facts_of, happening_of
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch, Event, EventKind, GravityMeasurement, GravityOrigin, Instrument
from fermwatch.model.finding import VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from tests.unit.judgement.beer import ALE, LAGER, PITCHED, SAISON, a_batch, event, said

NOW = a_batch()
DAY = timedelta(days=1)
BEFORE = replace(
    NOW, id="b0", pitched_at=PITCHED - 30 * DAY, packaged_at=PITCHED - 12 * DAY, ended_at=PITCHED - 2 * DAY
)
LEFT = PITCHED - 12 * DAY


def read(days_before: float, points: float, name: str = "", **more: object) -> GravityMeasurement:
    found = GravityMeasurement(name or f"m{days_before}", LEFT - days_before * DAY, 1.0 + points / 1000.0)
    return replace(found, **more)  # type: ignore[arg-type]


@dataclass
class Book:
    """A cellar book of one earlier batch, read 1.012 two days before its bottling and on the day."""

    before: Batch = BEFORE
    read: tuple[GravityMeasurement, ...] = (read(2.0, 12.0), read(0.1, 12.0))
    happened: tuple[Event, ...] = ()
    said: VerdictKind | None = None
    others: Mapping[str, Batch] = field(default_factory=dict)

    def batches(self, *, ended: bool = False) -> tuple[Batch, ...]:
        return (self.before, *self.others.values(), NOW) if ended else (NOW,)

    def measurements(self, batch_id: str, *, strict: bool = True) -> tuple[GravityMeasurement, ...]:
        assert not strict  # another batch's row that cannot be read is no reason to judge nothing
        return () if batch_id == NOW.id else self.read

    def events(self, batch_id: str, *, strict: bool = True) -> tuple[Event, ...]:
        assert not strict
        return () if batch_id == NOW.id else self.happened

    def judgement(self, batch_id: str) -> Judgement | None:
        del batch_id
        return None if self.said is None else Judgement(LEFT, verdict=Verdict(self.said, LEFT))


def happened(kind: EventKind, days_before: float, **data: float | str | bool) -> Event:
    return Event(f"{kind}", LEFT - days_before * DAY, kind, data)


def attenuations(book: Book, batch: Batch = NOW) -> list[float]:
    return [round(one.attenuation, 4) for one in own_ends(book, batch)]


def test_its_last_readings_say_where_it_ended() -> None:
    (end,) = own_ends(Book(), NOW)
    assert end.attenuation == pytest.approx(38.0 / 50.0)
    assert end.away == pytest.approx(0.0, abs=1e-9)  # the middle of 72 to 80 %
    assert 0.008 < end.sd < 0.02
    assert not end.hopped


@pytest.mark.parametrize(
    "book",
    [
        Book(replace(BEFORE, pitched_at=PITCHED - 8 * DAY, packaged_at=PITCHED + DAY, ended_at=None)),  # not yet then
        Book(replace(BEFORE, yeast=LAGER)),
        Book(replace(BEFORE, yeast=replace(ALE, name="another ale"))),
        Book(replace(BEFORE, original_origin=GravityOrigin.RECIPE)),
        Book(replace(BEFORE, original_sg=1.090)),
        Book(replace(BEFORE, extract_adjuncts_g_per_l={"lactose": 25.0})),
        Book(happened=(happened(EventKind.BLEND, 5.0, volume_l=5.0),)),
        Book(read=()),
        Book(read=(read(2.0, 12.0, voided=True), read(0.1, 12.0, voided=True))),
        Book(read=(read(2.0, 12.0, instrument=Instrument.REFRACTOMETER),)),
        Book(read=(read(2.0, 12.0, degassed=False),)),
        Book(read=(read(17.5, 48.0),)),  # in the lag
        Book(read=(read(9.0, 20.0),)),  # long before it was bottled, and alone
        Book(
            replace(BEFORE, packaged_at=None), read=(read(0.1, 20.0),)
        ),  # given up, and nothing shows that it was done
        Book(said=VerdictKind.HOLD),
    ],
)
def test_what_was_another_beer_or_shows_no_end_counts_for_nothing(book: Book) -> None:
    assert attenuations(book) == []


def test_a_yeast_that_is_never_done_learns_nothing_from_them() -> None:
    assert attenuations(Book(replace(BEFORE, yeast=SAISON)), replace(NOW, yeast=SAISON)) == []


def test_one_reading_before_the_bottling_counts_for_less_than_two_that_agree_or_a_verdict_behind_it() -> None:
    alone = Book(read=(read(0.1, 12.0),))
    sds = [own_ends(book, NOW)[0].sd for book in (alone, replace(alone, said=VerdictKind.SAFE), Book())]
    assert sds == sorted(sds, reverse=True)
    assert sds[0] > sds[1] > sds[2]


def test_a_reading_that_was_corrected_is_the_one_that_counts() -> None:
    slip = Book(read=(read(2.0, 12.0), read(0.1, 21.0, "slip", voided=True), read(0.1, 11.0)))
    assert attenuations(slip) == [round(1.0 - 11.5 / 50.0, 4)]


def test_the_newest_come_first_and_only_so_many() -> None:
    others = {
        f"b{count}": replace(BEFORE, id=f"b{count}", pitched_at=BEFORE.pitched_at - count * DAY, original_sg=1.05)
        for count in range(1, 9)
    }
    oldest = replace(BEFORE, id="old", pitched_at=BEFORE.pitched_at - 90 * DAY, original_sg=1.052)
    assert len(attenuations(Book(others={**others, "old": oldest}))) == 6
    assert round(1.0 - 12.0 / 52.0, 4) not in attenuations(Book(others={**others, "old": oldest}))


def test_sugar_counts_with_what_it_ferments_to_and_a_reading_before_it_for_nothing() -> None:
    sugared = Book(happened=(happened(EventKind.SUGAR, 5.0, grams=100.0),))
    (end,) = own_ends(sugared, NOW)
    assert end.attenuation > 38.0 / 50.0
    assert end.away < 0.0  # its range is higher with sugar in it
    assert attenuations(replace(sugared, read=(read(8.0, 12.0), read(6.0, 12.0)))) == []


def test_dry_hopped_beer_is_held_against_dry_hopped_beer() -> None:
    hops = Book(happened=(happened(EventKind.DRY_HOP, 5.0),))
    ends = own_ends(hops, NOW)
    now_hopped = happening_of(event(200.0, EventKind.DRY_HOP), PITCHED)
    assert [len(facts_of(NOW, done, ends).own) for done in ((), [now_hopped])] == [0, 1]
    assert [len(facts_of(NOW, done, own_ends(Book(), NOW)).own) for done in ((), [now_hopped])] == [1, 0]


def test_a_judge_expects_the_end_of_its_brewers_batches_and_says_so() -> None:
    def forecast(points: float) -> tuple[float, str]:
        judge = Judge(NOW)
        judge.add_measurement(GravityMeasurement("m", PITCHED + 2 * DAY, 1.030))
        judge.know_own_ends(own_ends(Book(read=(read(2.0, points), read(0.1, points))), NOW))
        found = said(judge, 60.0).forecast
        assert found is not None
        return found.terminal_sg, found.rests_on

    (high, told), (low, _) = forecast(14.0), forecast(10.0)
    assert high > 1.0126
    assert low < 1.0114
    assert told == "your last batch with this yeast ended at 72 %"


def test_a_judge_told_of_a_correction_says_what_one_that_never_knew_better_says() -> None:
    ends, corrected = (own_ends(Book(read=(read(2.0, points), read(0.1, points))), NOW) for points in (14.0, 10.0))
    judge, anew = Judge(NOW), Judge(NOW)
    for one in (judge, anew):
        one.add_measurement(GravityMeasurement("m", PITCHED + 2 * DAY, 1.030))
    judge.know_own_ends(ends)
    before = said(judge, 60.0)
    judge.know_own_ends(corrected)
    anew.know_own_ends(corrected)
    assert said(judge, 60.0) == said(anew, 60.0) != before


def test_a_forced_ferment_of_its_own_wort_says_more_than_earlier_batches() -> None:
    data = {"gravity_sg": 1.010, "temperature_c": 25.0}
    done = [happening_of(Event("f", PITCHED + 4 * DAY, EventKind.FORCED_FERMENT, data), PITCHED)]
    facts = facts_of(NOW, done, own_ends(Book(), NOW))
    assert facts.forced is not None
    assert facts.expected_end == pytest.approx(10.0)
    assert facts.rests_on == ""


def test_batches_are_told_apart_by_when_they_left() -> None:
    def left(at: datetime) -> int:
        return len(own_ends(Book(replace(BEFORE, packaged_at=at, ended_at=None)), NOW))

    assert [left(PITCHED), left(PITCHED + timedelta(seconds=1))] == [1, 0]
