"""Any page as lines, without a terminal: what the store answers at one instant, drawn once."""

from dataclasses import replace
from datetime import datetime

from fermwatch.contracts.feed import Feed
from fermwatch.dashboard.known import Known
from fermwatch.dashboard.pages.registry import PAGES
from fermwatch.drawing.page import Drawn

FOOTER = 1  # row, which a still has not
ASKS = 4  # times at most that a page asks on by what it was answered


def still(feed: Feed, known: Known, page: str, subject: str, size: tuple[int, int], wall_now: datetime) -> Drawn:
    """In so many columns, and rows where its page does not scroll; else as high as it is."""
    columns, rows = size
    known = replace(known, snapshot=feed.snapshot(wall_now))
    shown = PAGES[page](subject)
    for _ in range(ASKS):
        asked = [query for query in shown.wants(known) if not _answered(known, query)]
        for query in asked:
            known = known.with_answer(feed.answer(query, wall_now))
        if not asked:
            break
    return shown.draw(known, columns, rows + FOOTER if shown.SCROLLS else rows)


def _answered(known: Known, query: object) -> bool:
    return any(answer.query == query for answer in known.answers.values())
