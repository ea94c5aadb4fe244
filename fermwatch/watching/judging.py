"""The judges themselves, one for each batch: each is told what is new, in plain values, and answers with what is to be
said. They touch no store and read no clock, so they may sit in a thread of their own, for which nobody waits.
"""

from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from datetime import datetime
from typing import ParamSpec, TypeVar

from fermwatch.judgement.following import News, Notes
from fermwatch.judgement.judge import Judge
from fermwatch.model.batch import Batch
from fermwatch.model.judgement import Judgement

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be said of a batch at `until`, given the news.

    anew: the batch, where a new judge is to be made, who is then told everything. notes: None where there are no new.
    """

    batch_id: str
    until: datetime
    news: News
    notes: Notes | None = None
    anew: Batch | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """What is to be said; or where that failed, in which part of the work, and how.

    lost: the judge does not know any more what it was told.
    """

    judgement: Judgement | None = None
    failed: str = ""
    error: Exception | None = None
    lost: bool = False


class Bench:
    """Where the judges sit. Used by one thread at a time."""

    def __init__(
        self,
        make_judge: Callable[[Batch], Judge] = Judge,
        ask: Callable[[Judge, datetime], Judgement] = lambda judge, until: judge.judge_at_once(until),
    ) -> None:
        self._make_judge, self._ask_judge = make_judge, ask
        self._judges: dict[str, Judge] = {}

    def answer(self, question: Question) -> Judged:
        """A judge that fails leaves the others alone: what it failed by is its answer."""
        part = "making its judge"
        try:
            if question.anew is not None:
                self._judges[question.batch_id] = self._make_judge(question.anew)
            judge = self._judges[question.batch_id]
            part = "telling its judge"
            if question.notes is not None:
                question.notes.tell(judge)
            question.news.tell(judge)
        except Exception as error:  # noqa: BLE001 - told to whoever asked, who says it
            self._judges.pop(question.batch_id, None)
            return Judged(failed=part, error=error, lost=True)
        try:
            return Judged(self._ask_judge(judge, question.until))
        except Exception as error:  # noqa: BLE001
            return Judged(failed="judging", error=error)

    def forget(self, batch_id: str) -> None:
        self._judges.pop(batch_id, None)


class AtOnce(Executor):
    """Does all work at once, where it is asked for: for a replay, and for tests."""

    def submit(self, function: Callable[P, T], /, *arguments: P.args, **named: P.kwargs) -> Future[T]:
        future: Future[T] = Future()
        try:
            future.set_result(function(*arguments, **named))
        except BaseException as error:  # noqa: BLE001 - handed to whoever asks for the result, as in a thread
            future.set_exception(error)
        return future
