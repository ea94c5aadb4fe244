"""How far fermwatch may go with a controller, as a person says: kept as a line of the journal, which is what holds."""

import re

from fermwatch.errors import RequestRefused
from fermwatch.model.degree import CAUTION, Degree
from fermwatch.model.subject import About
from fermwatch.requests import shapes
from fermwatch.requests.ledger import Done, Ledger, Who

_SLUG = re.compile(r"[a-z0-9][a-z0-9-]{0,31}")


def arm(ledger: Ledger, asked: shapes.ArmingAsked, who: Who) -> Done:
    """To observe needs nothing. What configuration and device allow, the watcher looks at each time it writes."""
    del ledger
    if not _SLUG.fullmatch(asked.controller):
        raise RequestRefused(f"{asked.controller!r:.40} is no controller's name.")
    if asked.degree is not Degree.OBSERVE and not repeats_caution(asked.repeated):
        raise RequestRefused(f'Repeat the caution to arm it: "{CAUTION}".')
    return Done(About.CONTROLLER.of(asked.controller), f"{asked.degree}: by {who.user}")


def repeats_caution(text: str) -> bool:
    return " ".join(text.split()).casefold().rstrip(".") == CAUTION.casefold()
