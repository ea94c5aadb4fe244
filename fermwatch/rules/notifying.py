"""Whether people can be told: a notifier that carries nothing is itself an alarm, for who looks and by the others."""

from fermwatch.model.finding import Finding, Severity
from fermwatch.model.subject import About
from fermwatch.model.telling import NotifierStatus

CANNOT_NOTIFY = "cannot-notify"


def cannot_notify(status: NotifierStatus) -> Finding:
    """Of each that is configured: raised after some minutes in which nothing could be handed over."""
    waits = "1 message waits" if status.waits == 1 else f"{status.waits} things wait"
    return Finding(
        CANNOT_NOTIFY,
        About.NOTIFIER.of(status.name),
        status.failing_since is not None,
        Severity.WARNING,
        f"{status.name} carries nothing: {status.detail.rstrip('.')}; {waits} to be told"
        if status.failing_since is not None
        else f"{status.name} carries messages again",
        f"Mend it, then: fermwatch notify test {status.name}",
    )
