"""What an alarm, a finding or an outcome is about: made and taken apart here alone, kept as `kind:name`."""

from collections.abc import Iterable
from enum import StrEnum


class About(StrEnum):
    """The kinds of things that something can be said of."""

    FERMENTER = "vessel"  # by its slug
    BATCH = "batch"  # by its id
    PROBE = "probe"  # by its slug
    SOURCE = "source"  # by its name in the configuration
    NOTIFIER = "notifier"  # by its name in the configuration
    CONTROLLER = "controller"  # by the name of its source
    SITE = "site"  # by what of the watcher itself, as `requests`

    def of(self, name: str) -> str:
        return f"{self}:{name}"


def about_fermenter(vessel: str, probes: Iterable[str], batch_id: str | None) -> frozenset[str]:
    """The subjects of all that is said of a fermenter: of itself, of its probes and of the beer in it."""
    beer = set() if batch_id is None else {About.BATCH.of(batch_id)}
    return frozenset({About.FERMENTER.of(vessel), *(About.PROBE.of(probe) for probe in probes), *beer})


def kind_of(subject: str) -> str:
    """`probe` of `probe:left-beer`; also a kind that a newer program may have written."""
    return subject.partition(":")[0]


def name_of(subject: str) -> str:
    """`left-beer` of `probe:left-beer`; empty where there is none."""
    return subject.partition(":")[2]
