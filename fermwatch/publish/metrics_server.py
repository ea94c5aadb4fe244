"""Serves a text over HTTP/1.1 on the loopback address alone, to whoever of this machine asks: one short answer, and the
connection is over. Nothing can be written through it.
"""

import asyncio
import contextlib
from collections.abc import Awaitable, Callable
from http import HTTPStatus

from fermwatch.errors import FermwatchError, StoreError

LOOPBACK = "127.0.0.1"
PATHS = {b"/", b"/metrics"}
LONGEST_HEAD = 8 * 1024  # bytes of a request
PATIENCE_S = 5.0  # with who asks slowly, or reads slowly
MOST_AT_ONCE = 16  # connections: who floods it is put off, and nobody else notices
# A page in a browser could ask under another name for what is on this machine; this is what it is truly called.
_HOSTS = {b"localhost", b"127.0.0.1", b"[::1]"}

Body = Callable[[], Awaitable[str]]


class MetricsServer:
    """body: makes the text anew; a StoreError is answered with 503, and its sentence."""

    def __init__(self, port: int, body: Body, content_type: str) -> None:
        self._port, self._body, self._content_type = port, body, content_type
        self._server: asyncio.Server | None = None
        self._open = 0

    async def start(self) -> int:
        """The port that it listens on; FermwatchError where it is taken."""
        try:
            self._server = await asyncio.start_server(self._serve, LOOPBACK, self._port, limit=LONGEST_HEAD)
        except OSError as error:
            raise FermwatchError(
                f"Port {self._port} of this machine cannot be listened on: {error.strerror}.",
                hint="Name another one: [metrics] port, or --port.",
            ) from error
        return int(self._server.sockets[0].getsockname()[1])

    async def stop(self) -> None:
        if self._server is not None:
            self._server.close()
            await self._server.wait_closed()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._open += 1
        try:
            async with asyncio.timeout(PATIENCE_S):
                status, text = await self._answered(reader)
                writer.write(self._written(status, text))
                await writer.drain()
        except (OSError, asyncio.IncompleteReadError, asyncio.LimitOverrunError, TimeoutError):
            writer.transport.abort()  # it never asked whole, or does not listen
        finally:
            self._open -= 1
            writer.close()
            with contextlib.suppress(OSError):
                await writer.wait_closed()

    async def _answered(self, reader: asyncio.StreamReader) -> tuple[HTTPStatus, str]:
        if self._open > MOST_AT_ONCE:
            return HTTPStatus.SERVICE_UNAVAILABLE, "Too many ask at once.\n"
        head = await reader.readuntil(b"\r\n\r\n")
        refused = _refused(head)
        if refused is not None:
            return refused, f"{refused.phrase}.\n"
        try:
            return HTTPStatus.OK, await self._body()
        except StoreError as error:
            return HTTPStatus.SERVICE_UNAVAILABLE, f"{error.message}\n"

    def _written(self, status: HTTPStatus, text: str) -> bytes:
        body = text.encode("utf-8")
        kind = self._content_type if status is HTTPStatus.OK else "text/plain; charset=utf-8"
        head = [
            f"HTTP/1.1 {status.value} {status.phrase}",
            f"Content-Type: {kind}",
            f"Content-Length: {len(body)}",
            "Cache-Control: no-store",
            "X-Content-Type-Options: nosniff",
            "Connection: close",
        ]
        return "\r\n".join([*head, "", ""]).encode("ascii") + body


def _refused(head: bytes) -> HTTPStatus | None:
    """Why a request is not answered."""
    first, *fields = head.split(b"\r\n")
    parts = first.split(b" ")
    if len(parts) != 3 or not parts[2].startswith(b"HTTP/1."):
        return HTTPStatus.BAD_REQUEST
    method, target, _ = parts
    if method != b"GET":
        return HTTPStatus.METHOD_NOT_ALLOWED
    named = (one.partition(b":") for one in fields)
    hosts = [value.strip().lower() for name, _, value in named if name.lower() == b"host"]
    if len(hosts) > 1 or any(_without_port(host) not in _HOSTS for host in hosts):
        return HTTPStatus.MISDIRECTED_REQUEST
    return None if target.partition(b"?")[0] in PATHS else HTTPStatus.NOT_FOUND


def _without_port(host: bytes) -> bytes:
    name, colon, port = host.rpartition(b":")
    return name if colon and port.isdigit() else host
