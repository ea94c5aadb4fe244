"""A judge that is made anew out of the store says what one says that never stopped; and many readings at once tell a
judge what each of them would have told it."""

import tempfile
from array import array
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fermwatch.clock import from_ms, to_ms
from fermwatch.contracts.inbox import OutcomeState, Request, RequestKind
from fermwatch.contracts.store import Writer
from fermwatch.inbox.receiving import open_inbox
from fermwatch.ingest.pipeline import Intake
from fermwatch.judgement.following import follow
from fermwatch.judgement.judge import Judge
from fermwatch.judgement.series import Series
from fermwatch.model.batch import Event, EventKind, GravityMeasurement
from fermwatch.model.judgement import Judgement
from fermwatch.model.probe import Calibration, Probe
from fermwatch.model.reading import Flag, Reading
from fermwatch.plain_data import to_plain
from fermwatch.watching.logbook import Logbook
from tests.support.samples import PROBES, VESSELS, batch, beer_probe, gravity_probe, opening, request
from tests.support.stores import open_writer
from tests.unit.judgement.beer import PITCHED, a_batch, fermenting

HOUR = timedelta(hours=1)
BEER, GRAVITY = 1, 2  # series of the samples' probes, both of the left fermenter
EVERY_MIN = 20
BEGAN = batch().pitched_at

few_hours = st.integers(0, 3).map(float)
few_values = st.sampled_from([-0.0, 0.0, 1.0, 12.5])
rows = st.lists(st.tuples(few_hours, few_values), max_size=12)


@given(st.lists(rows, max_size=4))
def test_many_values_at_once_are_filed_as_one_by_one(chunks: list[list[tuple[float, float]]]) -> None:
    together, apart = Series(), Series()
    for chunk in chunks:
        new = [hour for hour, value in chunk if apart.add(hour, value)]
        hours, values = np.array([row[0] for row in chunk]), np.array([row[1] for row in chunk])
        assert together.add_many(hours, values) == min(new, default=None)
        assert together.between(-1.0, 9.0) == apart.between(-1.0, 9.0)


said = st.tuples(
    st.integers(-3, 60).map(lambda hours: to_ms(PITCHED + hours * HOUR)), st.floats(allow_nan=True, allow_infinity=True)
)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(said, max_size=6),
    st.integers(0, 999_999),
    st.lists(st.integers(0, 59), min_size=1, max_size=40),
)
def test_a_judge_told_all_at_once_says_what_one_says_who_was_told_one_by_one(
    odd: list[tuple[int, float]], microsecond: int, hours: list[int]
) -> None:
    pitched = PITCHED.replace(microsecond=microsecond)  # what a person typed has any; rows of a store have none
    beer, now = fermenting(), PITCHED + 60 * HOUR
    gravities = [(to_ms(PITCHED + hour * HOUR), 1.0 + beer(float(hour)) / 1000.0) for hour in hours] + odd
    temperatures = [(ms, 20.0 + number % 3 / 10) for number, (ms, _) in enumerate(gravities)] + odd
    told, apart = Judge(replace(a_batch(), pitched_at=pitched)), Judge(replace(a_batch(), pitched_at=pitched))
    told.add_gravities(array("q", [ms for ms, _ in gravities]), array("d", [sg for _, sg in gravities]))
    told.add_temperatures(array("q", [ms for ms, _ in temperatures]), array("d", [c for _, c in temperatures]))
    for ms, gravity_sg in gravities:
        apart.add_gravity(from_ms(ms), gravity_sg)
    for ms, celsius in temperatures:
        apart.add_temperature(from_ms(ms), celsius)
    assert told.judge_at_once(now) == apart.judge_at_once(now)


@dataclass(frozen=True)
class Step:
    """What happens next, `hours` after the one before; amount: of it, 0..1."""

    kind: str
    hours: float
    amount: float


KINDS = ("hear", "hear", "hear", "stuck", "silence", "late", "doubted", "measure", "sugar", "void", "calibrate", "move")
histories = st.lists(
    st.builds(Step, st.sampled_from(KINDS), st.floats(1.0, 60.0), st.floats(0.0, 1.0)), min_size=4, max_size=12
)


class Cellar:
    """A fermenter with its probes, and a watcher that goes on; it starts again where its configuration changes."""

    def __init__(self, directory: Path) -> None:
        self.now = BEGAN
        self._directory, self._beer = directory, fermenting()
        self._notes: list[str] = []
        self._missed: list[Reading] = []
        self._inbox = open_inbox(directory, "home")
        self.writer: Writer = open_writer(directory, "home", BEGAN, ballast_bytes=4096)
        self._declare(beer_probe(), BEGAN)
        self._begin()
        self._ask(opening(batch()))

    def close(self) -> None:
        self._inbox.close()
        self.writer.close()

    def go_on(self, step: Step) -> None:
        began, self.now = self.now, self.now + step.hours * HOUR
        heard = self._heard(began, step)
        if step.kind == "silence":
            self._missed += heard
        else:
            self._book.take(Intake(tuple(heard)))
        match step.kind:
            case "late":
                late, self._missed = self._missed, []
                self._book.take(Intake(tuple(reversed(late))))
            case "measure":
                points = self._points() + 4.0 * step.amount - 2.0
                measured = GravityMeasurement(self._new_note("M"), self.now - step.amount * HOUR, 1.0 + points / 1000.0)
                self._ask(request(RequestKind.MEASURE, {"batch": "BATCH1", "measurement": to_plain(measured)}))
            case "sugar":
                added = Event(self._new_note("E"), self.now, EventKind.SUGAR, {"grams": 400.0 * step.amount})
                self._ask(request(RequestKind.EVENT, {"batch": "BATCH1", "event": to_plain(added)}))
            case "void" if self._notes:
                taken_back = self._notes.pop(int(step.amount * (len(self._notes) - 1)))
                self._ask(request(RequestKind.VOID, {"id": taken_back}))
            case "calibrate":
                self._start_again(beer_probe(calibration=Calibration(step.amount)))
            case "move":
                self._start_again(beer_probe("left-beer", "right" if step.amount < 0.5 else "left"))
        self._book.decide(self.now)

    def _heard(self, began: datetime, step: Step) -> list[Reading]:
        flags = Flag.JUMP if step.kind == "doubted" else Flag.GOOD
        found, stuck_at = [], self._points(began)
        for minutes in range(0, int(step.hours * 60), EVERY_MIN):
            at = began + timedelta(minutes=minutes)
            tremble = (minutes * 7919 % 101 - 50) / 50
            points = stuck_at if step.kind == "stuck" else self._points(at) + tremble
            found.append(Reading(GRAVITY, to_ms(at), 1.0 + points / 1000.0, flags=flags))
            found.append(Reading(BEER, to_ms(at), 20.0 + tremble / 10, flags=flags))
        return found

    def _points(self, at: datetime | None = None) -> float:
        return self._beer(((at or self.now) - BEGAN) / HOUR)

    def _new_note(self, letter: str) -> str:
        self._notes.append(f"{letter}{self.now:%j%H%M%S%f}")
        return self._notes[-1]

    def _ask(self, asked: Request) -> None:
        self._inbox.put(replace(asked, id=f"R{self.now:%j%H%M%S%f}"))
        (outcome,) = self._book.attend(self.now)
        assert outcome.state is OutcomeState.DONE, outcome.reason

    def _declare(self, beer: Probe, since: datetime) -> None:
        self.writer.declare("UTC", VESSELS, (beer, gravity_probe(), *PROBES[2:]), since)

    def _start_again(self, beer: Probe) -> None:
        self._declare(beer, self.now)
        self._begin()

    def _begin(self) -> None:
        self._book = Logbook(self.writer, self._inbox)
        self._book.begin(self.now)

    def kept_and_anew(self) -> tuple[Judgement | None, Judgement]:
        told = self.writer.batch("BATCH1")
        assert told is not None
        return self.writer.judgement("BATCH1"), follow(self.writer, told, self.now).judge_at_once(self.now)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(histories)
def test_a_judge_made_anew_says_what_one_says_that_never_stopped(history: list[Step]) -> None:
    with tempfile.TemporaryDirectory() as name:
        cellar = Cellar(Path(name))
        try:
            for step in history:
                cellar.go_on(step)
                kept, anew = cellar.kept_and_anew()
                assert kept == anew, step
        finally:
            cellar.close()
