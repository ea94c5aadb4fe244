"""What is found beside a controller that is written to, rather than by a rule: the watcher tells it as it finds it."""

from fermwatch.model.degree import Degree
from fermwatch.model.finding import Finding, Severity
from fermwatch.model.subject import About

NOT_WRITTEN = "set-point-not-written"


def not_written(
    vessel: str, controller: str, why: str, *, degree: Degree = Degree.SET, given_up: bool = False, told_by: str = ""
) -> Finding:
    """why: why what a plan wants is not done by it; empty where it is. given_up: a person must look. told_by: the rule
    whose alarm tells the same.
    """
    if degree is Degree.DRIVE:
        what = f"{controller} does not do what the plan wants"
        again = f"Then arm it anew: fermwatch controller arm {controller}"
        remedy = again if given_up else "Look at the beer meanwhile."
    else:
        what = f"the plan's set point does not stand in {controller}"
        remedy = f"Set it at the controller, or change the plan: fermwatch plan show {vessel}"
    return Finding(
        NOT_WRITTEN,
        About.FERMENTER.of(vessel),
        holds=bool(why),
        severity=Severity.WARNING if given_up else Severity.ADVICE,
        statement=f"{what}: {why.rstrip('.')}" if why else f"{controller} follows the plan",
        remedy=remedy,
        told_by=told_by,
    )
