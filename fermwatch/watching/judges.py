"""One judge for each open batch, each behind its own boundary: a batch that cannot be judged says why, and the others
are judged as ever. A judge hears what is new; only one whose batch itself was changed is made anew.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar

from fermwatch.contracts.store import Reader
from fermwatch.errors import StoreError
from fermwatch.following import Ears, as_it_was_meant, hear_history, judged_until, tell_what_was_said
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch
from fermwatch.model.finding import Phase, VerdictKind
from fermwatch.model.judgement import Judgement, Verdict
from fermwatch.model.reading import Reading
from fermwatch.watching.boundary import Boundary

SAME_INSTANT = timedelta(seconds=1)  # instants are kept as hours since the pitch in between
T = TypeVar("T")


@dataclass(slots=True)
class Following:
    """An open batch, its judge, what was said of it last, and what of that is in the store."""

    batch: Batch
    ears: Ears = field(default_factory=Ears)
    judge: Judge | None = None  # None until it was told the batch's history
    said: bool = False  # whether people said something that the judge has not been told
    judgement: Judgement | None = None
    saved: Judgement | None = None
    settled: bool = False  # packaged, and judged as of that day: its history need not be heard again

    @property
    def subject(self) -> str:
        return f"batch:{self.batch.id}"


class Judges:
    """The judges of one site."""

    def __init__(self, store: Reader, boundary: Boundary, make_judge: Callable[[Batch], Judge] = Judge) -> None:
        self._store, self._boundary, self._make_judge = store, boundary, make_judge
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

    def follow(self, concerning: str | None = None) -> None:
        """Follow the batches that are open now. `concerning`: the only one of which something was said, None: any."""
        before, self._following = self._following, {}
        for identity in self._store.open_batches():
            batch = self._boundary.contained(f"batch:{identity}", "reading it", partial(self._store.batch, identity))
            if batch is None:
                continue
            known = before.get(identity)
            if known is None or known.batch != batch:
                saved = self._store.judgement(identity)  # one that cannot be read is said anew
                ears, settled = Ears.of(self._store, batch), _is_settled(batch, saved)
                known = Following(batch, ears, judgement=saved, saved=saved, settled=settled)
            elif concerning in {None, identity}:
                known.settled = False
            known.said = known.said or concerning in {None, identity}
            self._following[identity] = known
        for identity in before.keys() - self._following.keys():
            self._boundary.forget(f"batch:{identity}")

    def hear_anew(self, vessel: str | None = None) -> None:
        """The readings of the past are others than were heard: every judge (of the vessel) is told them again."""
        for one in self._following.values():
            if vessel in {None, one.batch.vessel}:
                one.judge, one.settled = None, False

    def hear(self, reading: Reading) -> None:
        """Let the judges whom it concerns hear a reading that is stored."""
        for one in self._following.values():
            if one.judge is not None:
                self._boundary.contained(one.subject, "hearing a reading", partial(one.ears.tell, one.judge, reading))

    def making_ready(self, following: Following, now: datetime) -> Iterator[None]:
        """Tell the batch's judge what it does not know yet, in slices. What cannot be told is tried again once
        somebody said something more of the batch, as that it was mistyped.
        """
        if following.settled:
            return
        if following.said and self._boundary.reason(following.subject):
            self._boundary.forget(following.subject)
            following.judge = None
        if following.judge is not None and following.said:
            self._tell(following.judge, following)
        elif following.judge is None and not self._boundary.reason(following.subject):
            yield from self._making(following, now)

    def judge(self, following: Following, now: datetime) -> Judgement | None:
        """What is to be said of the batch. Where it cannot be judged: that its bottling is on hold, and why."""
        judged = following.judgement
        if following.judge is not None:
            judged = self._contained(
                following, "judging", partial(following.judge.judge_at_once, judged_until(following.batch, now))
            )
        why = self._boundary.reason(following.subject)
        return _on_hold(following.judgement, why, now) if why else judged

    def _making(self, following: Following, now: datetime) -> Iterator[None]:
        def made() -> Judge:
            return self._make_judge(as_it_was_meant(self._store, following.batch))

        judge = self._contained(following, "making its judge", made)
        if judge is None or not self._tell(judge, following):
            return
        following.judge, whole = judge, False  # what comes in while it is told the rest, it hears at once
        try:
            history = hear_history(judge, following.ears, self._store, now)
            while self._contained(following, "its readings", partial(next, history, True)) is None:
                if self._boundary.reason(following.subject):
                    return
                yield
            whole = True
        finally:
            if not whole:
                following.judge = None

    def _tell(self, judge: Judge, following: Following) -> bool:
        following.said = False
        told = False

        def telling() -> bool:
            tell_what_was_said(judge, self._store, following.batch)
            return True

        try:
            told = bool(self._contained(following, "what people said of it", telling))
        except StoreError:
            following.said = True
            raise
        return told

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
