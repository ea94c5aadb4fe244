"""What is found beside a controller that is written to, rather than by a rule: the watcher tells it as it finds it."""

from fermwatch.model.finding import Finding, Severity
from fermwatch.model.subject import About

NOT_WRITTEN = "set-point-not-written"


def not_written(vessel: str, controller: str, why: str, *, given_up: bool) -> Finding:
    """why: why what a plan wants does not stand in it; empty where it does. given_up: a person must look."""
    return Finding(
        NOT_WRITTEN,
        About.FERMENTER.of(vessel),
        holds=bool(why),
        severity=Severity.WARNING if given_up else Severity.ADVICE,
        statement=f"the plan's set point does not stand in {controller}: {why.rstrip('.')}"
        if why
        else f"{controller} follows the plan",
        remedy=f"Set it at the controller, or change the plan: fermwatch plan show {vessel}",
    )
