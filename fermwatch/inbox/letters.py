"""A request as what a file holds: one JSON object, read strictly. Who asks is not in it: that is the file's owner."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NoReturn

from fermwatch.contracts.inbox import Request, RequestKind
from fermwatch.errors import InputError
from fermwatch.plain_data import Malformed, from_plain, to_text

LARGEST = 64 * 1024  # bytes
DEEPEST = 20  # lists and objects within each other: deeper than anything that can be meant
_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")


@dataclass(frozen=True, slots=True)
class Letter:
    """What stands in the file."""

    id: str
    site: str
    kind: RequestKind
    payload: Mapping[str, Any]
    created_at: datetime
    expires_at: datetime | None = None
    version: int = 1


def written(request: Request) -> bytes:
    """The file's content. InputError where it is longer than the watcher would read."""
    letter = Letter(
        request.id,
        request.site,
        request.kind,
        request.payload,
        request.created_at,
        request.expires_at,
        request.version,
    )
    data = to_text(letter).encode("utf-8")
    if len(data) > LARGEST:
        raise InputError("That is too long to be asked.", hint="Shorten its texts.")
    return data


def read(name: str, data: bytes, user: str) -> Request:
    """The request of `user` in a file of this name. Whoever may write it may have written anything: Malformed."""
    try:
        plain = json.loads(data.decode("utf-8"), parse_constant=_no_number)
        _check_depth(plain)
    except RecursionError:
        raise Malformed("request", "nested too deeply") from None
    except ValueError as error:
        raise Malformed("request", f"not JSON in UTF-8 ({error})") from None
    letter = from_plain(Letter, plain)
    if not _ID.fullmatch(letter.id):
        raise Malformed("id", "expected at most 64 letters and digits")
    if not name.endswith(f"-{letter.id}.json"):
        raise Malformed("id", "is not that of the file's name")
    return Request(
        id=letter.id,
        site=letter.site,
        kind=letter.kind,
        payload=letter.payload,
        user=user,
        created_at=letter.created_at,
        expires_at=letter.expires_at,
        version=letter.version,
    )


def _check_depth(plain: object, depth: int = 0) -> None:
    if depth > DEEPEST:
        raise RecursionError
    if isinstance(plain, dict | list):
        for item in plain.values() if isinstance(plain, dict) else plain:
            _check_depth(item, depth + 1)


def _no_number(said: str) -> NoReturn:
    raise ValueError(f"{said} is no number")
