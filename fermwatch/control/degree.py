"""How far fermwatch may go with a controller. It only observes until a person armed it, for one device, by name."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.contracts.controller import Abilities, Seen, SetPoint, Switch
from fermwatch.model.degree import CAUTION, Degree, Output

LEASE_S = 120.0  # for which an output is switched on at a time, and the longest that a device may take to drop it


@dataclass(frozen=True, slots=True)
class Arming:
    """What a device may be asked, who said so, and when: a line of the journal. Nobody needs to say `observe`."""

    degree: Degree = Degree.OBSERVE
    by: str = ""
    at: datetime | None = None


OBSERVING = Arming()


def arming_said(text: str, at: datetime) -> Arming:
    """As a line of the journal says it, `set: by anna`; what cannot be read is to observe."""
    degree, _, by = text.partition(": by ")
    known = degree in set(Degree)
    return Arming(Degree(degree), by, at) if known else OBSERVING


@dataclass(frozen=True, slots=True)
class Refused:
    """Why it was not armed: one sentence."""

    why: str


def drivable(abilities: Abilities, seen: Seen) -> frozenset[Output]:
    """The outputs that may be switched: heat only where the device itself drops it soon, as it shows or is told."""
    dead_man = abilities.dead_man
    if dead_man is not None and (dead_man.told or (seen.dead_man_s is not None and 0.0 < seen.dead_man_s <= LEASE_S)):
        return abilities.outputs
    return abilities.outputs - {Output.HEAT}


def arm(
    degree: Degree, at_most: Degree, abilities: Abilities, seen: Seen, repeated: str, by: str, now: datetime
) -> Arming | Refused:
    """What holds from now on. To observe needs nothing and is never refused.

    at_most: as the configuration allows. seen: as the device was read just now. repeated: the caution, as the person
    repeated it.
    """
    if degree is Degree.OBSERVE:
        return Arming(degree, by, now)
    if degree is not at_most:
        return Refused(f"The configuration allows this controller to {at_most}, not to {degree}.")
    if degree is Degree.SET and abilities.set_point is None:
        return Refused("The set point of this controller cannot be written.")
    if degree is Degree.DRIVE and not drivable(abilities, seen):
        return Refused(
            "This controller has no output that may be switched: heat needs a device that drops it by itself."
        )
    if " ".join(repeated.split()).casefold() != CAUTION.casefold():
        return Refused(f'Repeat the caution to arm it: "{CAUTION}".')
    return Arming(degree, by, now)


def may(arming: Arming, what: SetPoint | Switch, abilities: Abilities, seen: Seen) -> bool:
    """Whether this may be asked of the device at all, before the guard looks at how cold, how often and how soon.

    To switch off everything is always allowed to who drives; `observe` writes nothing, and lets the device's own
    dead-man end what is on.
    """
    if isinstance(what, SetPoint):
        return arming.degree is Degree.SET and abilities.set_point is not None
    dead_man = abilities.dead_man
    longest_s = min(LEASE_S, dead_man.after_s) if dead_man is not None and dead_man.told else LEASE_S
    return arming.degree is Degree.DRIVE and what.on <= drivable(abilities, seen) and 0.0 < what.lease_s <= longest_s
