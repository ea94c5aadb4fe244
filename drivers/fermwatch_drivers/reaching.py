"""Reaching a host over TCP, without holding up the event loop or a stop."""

import asyncio
import os
import socket

from fermwatch.errors import ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.blocking import in_thread

LIMIT_S = 10.0  # for a name's address
_PER_ADDRESS_S = 5.0


async def reach(host: str, port: int, noun: str) -> socket.socket:
    """A connected socket that does not block, to the `noun` there. Raises ProbeUnavailable."""
    try:
        found = await in_thread(
            lambda: socket.getaddrinfo(host, port, type=socket.SOCK_STREAM),
            name="resolve",
            limit_s=LIMIT_S,
            discard=lambda _: None,
        )
    except (OSError, UnicodeError) as error:  # TimeoutError among them
        reason = f" ({clean(str(error))})" if str(error) else ""
        raise ProbeUnavailable(
            f"The {noun}'s name {clean(host)} is not known{reason}.", hint="Check host, and the network."
        ) from error
    last: OSError = OSError("no address")
    for family, kind, protocol, _, where in found:
        connection = socket.socket(family, kind, protocol)
        connection.setblocking(False)
        try:
            async with asyncio.timeout(_PER_ADDRESS_S):
                await asyncio.get_running_loop().sock_connect(connection, where)
        except OSError as error:
            connection.close()
            last = error
        except BaseException:
            connection.close()
            raise
        else:
            return connection
    reason = os.strerror(last.errno) if last.errno else "no answer in time"
    raise ProbeUnavailable(
        f"No {noun} answers at {clean(host)}:{port} ({reason}).", hint="Is it running, and are host and port right?"
    ) from last
