"""A broker of the demo's own: mosquitto, where the machine has it, on a free port of the loopback interface only."""

import asyncio
import contextlib
import os
import shutil
import socket
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from fermwatch.errors import FermwatchError

LOOPBACK = "127.0.0.1"
_ATTEMPTS = 5  # another program may take the free port in between
_PATIENCE_S = 10.0
_POLL_S = 0.02
_SYSTEM_FOLDERS = "/usr/local/sbin:/usr/sbin"  # where daemons lie, and not on every user's path


@dataclass(frozen=True, slots=True)
class Address:
    host: str
    port: int


def find_mosquitto() -> str | None:
    """The broker's program, or None where it is not installed."""
    return shutil.which("mosquitto", path=os.pathsep.join((os.environ.get("PATH", os.defpath), _SYSTEM_FOLDERS)))


@asynccontextmanager
async def private_broker() -> AsyncIterator[Address | None]:
    """A running broker for as long as the context lasts, or None where mosquitto is not installed.

    Raises FermwatchError where it is there but does not start.
    """
    program = find_mosquitto()
    if program is None:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="fermwatch-broker-") as folder:  # which it needs no more once it listens
        os.chmod(folder, 0o755)  # noqa: S103, PTH101 — started by root, mosquitto reads it as a user of its own
        process, address = await _start(program, Path(folder))
    try:
        yield address
    finally:
        await _stop(process)


async def _start(program: str, folder: Path) -> tuple[asyncio.subprocess.Process, Address]:
    for _ in range(_ATTEMPTS):
        address = Address(LOOPBACK, _free_port())
        configuration = folder / "broker.conf"
        configuration.write_text(
            f"listener {address.port} {address.host}\nallow_anonymous true\npersistence false\nlog_dest none\n",
            encoding="utf-8",
        )
        process = await asyncio.create_subprocess_exec(
            program,
            "-c",
            str(configuration),
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
        )
        try:
            listening = await _listening(process, address)
        except BaseException:
            await _stop(process)
            raise
        if listening:
            return process, address
        await _stop(process)
    raise FermwatchError(
        "The demo's own broker does not start.", hint=f"Try: {program} -v, or run the demo without a broker."
    )


async def _listening(process: asyncio.subprocess.Process, address: Address) -> bool:
    try:
        async with asyncio.timeout(_PATIENCE_S):
            while process.returncode is None:
                with contextlib.suppress(OSError):
                    _, writer = await asyncio.open_connection(address.host, address.port)
                    writer.close()
                    await writer.wait_closed()
                    return process.returncode is None
                await asyncio.sleep(_POLL_S)
    except TimeoutError:
        return False
    return False


async def _stop(process: asyncio.subprocess.Process) -> None:
    with contextlib.suppress(ProcessLookupError):
        process.terminate()
    try:
        async with asyncio.timeout(_PATIENCE_S):
            await process.wait()
    except TimeoutError:
        process.kill()
        await process.wait()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        port: int = probe.getsockname()[1]
        return port
