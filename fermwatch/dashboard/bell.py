"""When the terminal's bell rings: something calls that did not before. Pure."""

from datetime import datetime, timedelta

from fermwatch.contracts.feed import Snapshot
from fermwatch.model.finding import Severity

NOT_AGAIN_WITHIN = timedelta(minutes=1)  # of many at once one is heard

Call = tuple[str, str, int]


def calls(snapshot: Snapshot) -> frozenset[Call]:
    """What calls somebody now, each time that it was raised anew; advice calls nobody."""
    return frozenset(
        (one.rule, one.subject, one.occurrence)
        for one in snapshot.alarms
        if one.needs_attention and not one.told_by and one.severity is not Severity.ADVICE
    )


def rings(before: Snapshot | None, after: Snapshot, rang_at: datetime | None) -> bool:
    """Whether it rings now. before: as it was seen last; what stood when somebody came is on the screen."""
    if before is None or not calls(after) - calls(before):
        return False
    return rang_at is None or not timedelta() <= after.wall_now - rang_at < NOT_AGAIN_WITHIN
