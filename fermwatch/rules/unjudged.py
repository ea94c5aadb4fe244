"""What could not be judged at all: told like any other finding, so that nobody takes silence for good news."""

from fermwatch.model.finding import Finding

NOT_JUDGED = "not-judged"


def unjudged(subject: str, why: str) -> Finding:
    """`why` is empty where the subject is judged (again)."""
    return Finding(
        NOT_JUDGED,
        subject,
        holds=bool(why),
        statement=f"not judged: {why}" if why else "judged again",
        remedy="Take back what was mistyped (`fermwatch measure list`, `fermwatch note list`). If nothing was, "
        "it is a mistake of fermwatch: the log has more. All else is watched.",
    )
