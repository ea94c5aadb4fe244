"""Where mail and pushes go in tests: real servers on the loopback, which refuse, hang, drip or take what comes."""

import asyncio
import contextlib
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

SLOW_S = 30.0  # longer than the library waits


class Mailbox:
    """refusing: what the server answers to a message in place of taking it, as "451 later"."""

    def __init__(self) -> None:
        self.refusing, self.hanging = "", False
        self.mails: list[tuple[str, str]] = []  # subject and text

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:  # noqa: N802
        if self.hanging:
            await asyncio.sleep(SLOW_S)
        if self.refusing:
            return self.refusing
        content = envelope.content
        assert isinstance(content, bytes)
        mail = message_from_bytes(content, policy=policy.default)
        body = mail.get_body(("plain",))
        self.mails.append((str(mail["Subject"]), "" if body is None else body.get_content()))
        return "250 taken"


@contextmanager
def mail_server(mailbox: Mailbox, port: int) -> Iterator[None]:
    controller = Controller(mailbox, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield
    finally:
        controller.stop()


class Pushes:
    """status: what the server answers; retry_after: the header of that name. drip: a byte a second. moved: what is
    posted is sent there, with that status."""

    def __init__(self) -> None:
        self.status, self.retry_after, self.drip = 200, "", False
        self.moved: tuple[int, str] | None = None
        self.bodies: list[str] = []
        self.logins: list[str | None] = []
        self._over = threading.Event()

    def end(self) -> None:
        self._over.set()

    def wait(self, seconds: float) -> None:
        self._over.wait(seconds)


@contextmanager
def push_server(pushes: Pushes) -> Iterator[int]:
    """Its port."""

    class Answers(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", 0))).decode()
            if pushes.drip:
                pushes.wait(SLOW_S)
            moved = pushes.moved if self.command == "POST" else None
            if pushes.status == 200 and moved is None:
                pushes.bodies.append(body)
                pushes.logins.append(self.headers.get("Authorization"))
            self.send_response(pushes.status if moved is None else moved[0])
            if moved is not None:
                self.send_header("Location", moved[1])
            if pushes.retry_after:
                self.send_header("Retry-After", pushes.retry_after)
            self.send_header("Content-Length", "2")
            self.end_headers()
            with contextlib.suppress(ConnectionError):  # who asked gave up
                self.wfile.write(b"ok")

        do_GET = do_POST  # noqa: N815

        def log_message(self, *_: Any) -> None:  # noqa: ANN401
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        pushes.end()
        server.shutdown()
        server.server_close()
        thread.join()
