"""What the tests of the inbox lay into it, and take out of it."""

import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

from fermwatch.access import user_name
from fermwatch.contracts.inbox import Inbox, Request, RequestKind
from fermwatch.inbox import letters
from tests.support.samples import request

ME = user_name(os.geteuid())


def taken(inbox: Inbox) -> list[Request]:
    found = [one for one in inbox.waiting() if one is not None]
    while inbox.unfinished:
        found += [one for one in inbox.waiting() if one is not None]
    return found


def mine(asked: Request) -> Request:
    return replace(asked, user=ME)


def good_letter(**changed: Any) -> dict[str, Any]:  # noqa: ANN401
    return {**json.loads(letters.written(request(RequestKind.VOID, {"id": "M1"}, identity="R1"))), **changed}


def lay(place: Path, data: bytes, name: str = "000001-R1.json") -> None:
    (place / name).write_bytes(data)
