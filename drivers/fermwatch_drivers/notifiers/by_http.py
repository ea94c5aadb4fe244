"""A message is posted as JSON to an address on the web, or (`method = "get"`) that address is only called.

The address may hold a key: it is read from a file of its own, and never shown, nor is what the server answers.
"""

import http.client
import json
import urllib.error
import urllib.request
from base64 import b64encode
from dataclasses import dataclass
from email.message import Message as Headers
from enum import StrEnum
from pathlib import Path
from typing import IO
from urllib.parse import unquote, urlsplit, urlunsplit

from pydantic import BaseModel, ConfigDict, Field

from fermwatch.contracts.notifier import CONTRACT_VERSION, Notification
from fermwatch.errors import NotifierRefused, NotifierUnavailable
from fermwatch.text import clean
from fermwatch_drivers.blocking import in_thread
from fermwatch_drivers.secret_file import read_secret

LIMIT_S = 20.0
_COME_LATER = {408, 425, 429}  # of the refusals, those that may be none tomorrow


class Method(StrEnum):
    POST = "post"
    GET = "get"


class HttpOptions(BaseModel):
    """Keys of a notifier that calls an address on the web."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    address_file: Path = Field(description="A file of mode 600 that holds the address: https://...")
    method: Method = Field(Method.POST, description='"post": the message is sent along as JSON; "get": it is not.')


class HttpNotifier:
    """An answer of 200 to 299 says that it was taken."""

    def __init__(self, options: HttpOptions, directory: Path) -> None:
        self._method, self._file = options.method, directory / options.address_file.expanduser()

    async def send(self, message: Notification) -> None:
        try:
            await in_thread(lambda: self._call(message), name="http", limit_s=LIMIT_S, discard=lambda _: None)
        except TimeoutError as error:
            raise NotifierUnavailable(f"No answer within {LIMIT_S:.0f} s.") from error

    def _call(self, message: Notification) -> None:
        address = read_secret(self._file, "the address", NotifierRefused).strip()
        request, host = _request(address, self._method, message)
        try:
            with urllib.request.build_opener(_NotElsewhere).open(request, timeout=LIMIT_S):
                pass
        except urllib.error.HTTPError as error:
            with error:
                raise _refused(error.code, error.headers) from None
        except (OSError, ValueError, http.client.HTTPException) as error:
            reason = clean(str(getattr(error, "reason", "") or type(error).__name__), 80)
            raise NotifierUnavailable(f"{host} cannot be reached ({reason}).") from None


class _NotElsewhere(urllib.request.HTTPRedirectHandler):
    """Sent elsewhere, a message would arrive there without what it says (RFC 9110, section 15.4: POST may become
    GET), and be counted as told."""

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        return None if req.data is not None else super().redirect_request(req, fp, code, msg, headers, newurl)


def _request(address: str, method: Method, message: Notification) -> tuple[urllib.request.Request, str]:
    """And the host that is asked. A user and password in the address go where they belong (RFC 7617), not into a
    question for that host's name."""
    try:
        parts = urlsplit(address)
        usable = parts.scheme in {"http", "https"} and parts.hostname and parts.port != 0
    except ValueError:  # it quotes what it was given
        usable = False
    if not usable or not (address.isascii() and address.isprintable()) or " " in address:
        raise NotifierRefused(
            "What the address file holds is no address.",
            hint="It begins with https://, and what is no plain letter in it is written as %C3%A4.",
        )
    login, _, place = parts.netloc.rpartition("@")
    said = json.dumps(message.as_plain()).encode() if method is Method.POST else None
    request = urllib.request.Request(  # noqa: S310 - the scheme was looked at
        urlunsplit(parts._replace(netloc=place)),
        said,
        {"Content-Type": "application/json", "User-Agent": "fermwatch"},
        method=method.upper(),
    )
    if login:
        user, _, password = login.partition(":")
        word = b64encode(f"{unquote(user)}:{unquote(password)}".encode()).decode("ascii")
        request.add_unredirected_header("Authorization", f"Basic {word}")
    return request, clean(parts.hostname or "", 80)


def _refused(status: int, headers: Headers) -> NotifierRefused | NotifierUnavailable:
    said = f"The server answered with status {status}."
    if 300 <= status < 400:
        return NotifierRefused(said, hint="It sends us elsewhere: write the new address into the address file.")
    if 400 <= status < 500 and status not in _COME_LATER:
        return NotifierRefused(said, hint="Look at the address, and at the key in it.")
    wait = str(headers.get("Retry-After", ""))
    return NotifierUnavailable(said, after_s=float(wait) if wait.isascii() and wait.isdigit() else 0.0)


@dataclass(frozen=True, slots=True)
class HttpKind:
    """See `fermwatch.contracts.notifier.NotifierKind`."""

    contract_version: int = CONTRACT_VERSION
    options: type[HttpOptions] = HttpOptions

    def create(self, name: str, options: HttpOptions, directory: Path) -> HttpNotifier:  # noqa: ARG002
        return HttpNotifier(options, directory)


NOTIFIER = HttpKind()
