"""The batches that are followed, and what is said of each. Their judges sit apart (`judging`): they are told what is
new and answer when they can, and nobody waits for them. A batch that cannot be judged says why, and the others are
judged as ever.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar

from fermwatch.contracts.store import Past
from fermwatch.errors import StoreError
from fermwatch.judgement.following import Ears, News, Notes, as_it_was_meant, judged_until
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.model.reading import Reading
from fermwatch.model.subject import About
from fermwatch.watching.boundary import Boundary
from fermwatch.watching.judging import Bench, Judged, Question

SAME_INSTANT = timedelta(seconds=1)  # instants are kept as hours since the pitch in between
JUDGING = "judging"
T = TypeVar("T")


@dataclass(slots=True)
class Following:
    """An open batch, and how far its judge is.

    judgement: what is said of it; judged: what its judge said last; saved: what of that is in the store.
    anew: its judge is still to be made, and told everything. said: people said something that the judge has not been
    told. outdated: what it said last rests on less than it should, or on what was taken back.
    settled: packaged, and judged as of that day: its history need not be heard again.
    """

    batch: Batch
    ears: Ears = field(default_factory=Ears)
    judgement: Judgement | None = None
    judged: Judgement | None = None
    saved: Judgement | None = None
    anew: bool = True
    said: bool = False
    outdated: bool = False
    settled: bool = False
    news: News = field(default_factory=News)
    asked: Future[Judged] | None = None

    def keep(self) -> None:
        """What is said of it is in the store."""
        self.saved = self.judgement

    @property
    def subject(self) -> str:
        return About.BATCH.of(self.batch.id)


class Judges:
    """The judges of one site."""

    def __init__(self, store: Past, boundary: Boundary, bench: Bench, judging: Executor) -> None:
        """judging: where the bench's work is done, one question at a time."""
        self._store, self._boundary, self._bench, self._judging = store, boundary, bench, judging
        self._following: dict[str, Following] = {}

    @property
    def all(self) -> tuple[Following, ...]:
        return tuple(self._following.values())

    def follows(self, following: Following) -> bool:
        return self._following.get(following.batch.id) is following

    def in_vessel(self, vessel: str) -> Following | None:
        """The beer that is in a fermenter now."""
        there = (one for one in self._following.values() if one.batch.in_fermenter)
        return next((one for one in there if one.batch.vessel == vessel), None)

    def whereabouts(self) -> dict[str, str | None]:
        """Each open batch's fermenter; None for one in its package."""
        batches = (one.batch for one in self._following.values())
        return {batch.id: batch.vessel if batch.in_fermenter else None for batch in batches}

    @property
    def unanswered(self) -> tuple[Future[Judged], ...]:
        """The questions that judges were asked and have not answered yet."""
        asked = (one.asked for one in self._following.values())
        return tuple(one for one in asked if one is not None and not one.done())

    def follow(self, concerning: str | None = None) -> None:
        """Follow the batches that are open now. `concerning`: the only one of which something was said, None: any."""
        before, self._following = self._following, {}
        for identity in self._store.open_batches():
            batch = self._boundary.contained(
                About.BATCH.of(identity), "reading it", partial(self._store.batch, identity)
            )
            if batch is None:
                continue
            known = before.get(identity)
            if known is None or known.batch != batch:
                known = self._beginning(batch, changed=known is not None)
            elif concerning in {None, identity}:
                known.said, known.outdated, known.settled = True, True, False
            self._following[identity] = known
        if concerning is not None and not self._ferments(concerning):
            for one in self._following.values():
                one.said = True  # where it ended is expected of later ones
        for identity in before.keys() - self._following.keys():
            self._boundary.forget(About.BATCH.of(identity))
            self._judging.submit(self._bench.forget, identity)

    def _ferments(self, identity: str) -> bool:
        following = self._following.get(identity)
        return following is not None and following.batch.in_fermenter

    def of_note(self, identity: str) -> str | None:
        """The batch of which a measurement or an event was said."""
        for one in self._following.values():
            measured = {note.id for note in self._store.measurements(one.batch.id, strict=False)}
            happened = {note.id for note in self._store.events(one.batch.id, strict=False)}
            if identity in measured | happened:
                return one.batch.id
        return None

    def know_the_probes(self) -> None:
        """Another probe is there than was: who speaks for a fermenter may be another."""
        for one in self._following.values():
            one.ears = Ears.of(self._store, one.batch)

    def hear_anew(self, vessel: str | None = None) -> None:
        """The readings of the past are others than were heard: every judge (of the vessel) is told them again."""
        for one in self._following.values():
            if vessel in {None, one.batch.vessel}:
                one.anew, one.outdated, one.settled, one.news = True, True, False, News()

    def hear(self, reading: Reading) -> None:
        """Keep a reading that is stored for the judges whom it concerns."""
        for one in self._following.values():
            if not one.settled:
                self._boundary.contained(one.subject, "hearing a reading", partial(one.news.hear, one.ears, reading))

    def making_ready(self, now: datetime) -> Iterator[None]:
        """Tell the judges who know nothing all that there is, in slices: between two, whoever waits for the store may
        go on. What a judge cannot be told is tried again once somebody said something more of the batch, as that it
        was mistyped.

        All is read before the first judge begins: while one judges, every row takes several times as long to read.
        What the store refuses (StoreError) is told at the end.
        """
        heard: list[tuple[Following, News]] = []
        refused: list[StoreError] = []
        for following in self.all:
            if not self._is_to_be_made(following):
                continue
            news = following.news = News()  # from here on it hears what comes in; what it hears twice, it knows once
            try:
                yield from self._hear_the_past(following, now)
            except StoreError as error:
                refused.append(error)
            else:
                heard.append((following, news))
        for following, news in heard:
            try:
                self._ask_anew(following, news, now)
            except StoreError as error:
                refused.append(error)
        if refused:
            raise refused[0]

    def tell(self, now: datetime) -> None:
        """Tell every judge who knows the past what is new, and ask what is to be said now."""
        for following in self._following.values():
            if following.anew or not self._may_be_asked(following):
                continue
            said = following.said
            notes = self._notes(following) if said else None
            if notes is not None or not said:
                self._ask(following, now, notes)

    def take_answer(self, following: Following, now: datetime) -> None:
        """What is to be said of the batch. Where it cannot be judged: that its bottling is on hold, and why."""
        if following.asked is not None and following.asked.done():
            answer, following.asked = following.asked.result(), None
            following.anew = following.anew or answer.lost
            following.outdated = following.outdated and (following.said or following.anew)
            self._boundary.note(following.subject, JUDGING, answer.error)
            if answer.error is None:
                following.judged = answer.judgement
        why = self._boundary.reason(following.subject)
        if why:
            following.judgement = _on_hold(following.judgement, why, now)
        elif following.outdated and following.judged is not None:
            following.judgement = _outdated(following.judged, now)
        else:
            following.judgement = following.judged

    def _beginning(self, batch: Batch, *, changed: bool) -> Following:
        saved = self._store.judgement(batch.id)  # one that cannot be read is said anew
        ears, settled = Ears.of(self._store, batch), _is_settled(batch, saved)
        return Following(
            batch,
            ears,
            judgement=saved,
            judged=saved,
            saved=saved,
            said=True,
            outdated=changed,
            settled=settled,
        )

    def _may_be_asked(self, following: Following) -> bool:
        return following.asked is None and not following.settled and self.follows(following)

    def _is_to_be_made(self, following: Following) -> bool:
        if following.said and self._boundary.reason(following.subject):
            self._boundary.forget(following.subject)
            following.anew = True
        return following.anew and self._may_be_asked(following) and not self._boundary.reason(following.subject)

    def _hear_the_past(self, following: Following, now: datetime) -> Iterator[None]:
        history = following.news.hear_history(following.ears, self._store, now)
        while self._contained(following, "its readings", partial(next, history, True)) is None:
            if self._boundary.reason(following.subject):
                return
            yield

    def _ask_anew(self, following: Following, news: News, now: datetime) -> None:
        if self._boundary.reason(following.subject):
            return
        meant = self._contained(following, "what it is", partial(as_it_was_meant, self._store, following.batch))
        notes = self._notes(following)
        changed = following.news is not news or not self._may_be_asked(following)  # then it is begun again
        if meant is not None and notes is not None and not changed:
            self._ask(following, now, notes, meant)

    def _ask(self, following: Following, now: datetime, notes: Notes | None, anew: Batch | None = None) -> None:
        until = judged_until(following.batch, now)
        question = Question(following.batch.id, until, following.news, notes, anew)
        following.asked = self._judging.submit(self._bench.answer, question)
        following.news, following.anew = News(), False

    def _notes(self, following: Following) -> Notes | None:
        """None where one of them cannot be read: tried again once somebody said something more."""
        following.said = False
        try:
            return self._contained(following, "what people said of it", partial(Notes.of, self._store, following.batch))
        except StoreError:
            following.said = True
            raise

    def _contained(self, following: Following, part: str, work: Callable[[], T]) -> T | None:
        return self._boundary.contained(following.subject, part, work)


def _is_settled(batch: Batch, saved: Judgement | None) -> bool:
    if batch.packaged_at is None or saved is None or saved.phase is None:
        return False
    return saved.phase.phase is Phase.PACKAGED and abs(saved.at - batch.packaged_at) < SAME_INSTANT


def _on_hold(before: Judgement | None, why: str, now: datetime) -> Judgement:
    reasons = (f"not judged: {why}",)
    if before is not None and before.verdict is not None and before.verdict.reasons == reasons:
        return before
    return Judgement(now, verdict=Verdict(VerdictKind.HOLD, now, reasons))


def _outdated(judged: Judgement, now: datetime) -> Judgement:
    """What was judged before all was heard that was said since is no ground to bottle on. It calls nobody: soon more
    is known. What is on hold stays so."""
    if judged.verdict is not None and judged.verdict.kind is VerdictKind.HOLD:
        return judged
    since = now if judged.verdict is None else judged.verdict.since
    reasons = ("being judged: something was said or corrected, and is being looked at",)
    sentence = "Being judged: look again in a moment."
    return replace(judged, verdict=Verdict(VerdictKind.NOT_YET, since, reasons, sentence=sentence))
