"""A program of the user's own is run for each message: it gets the message as JSON on its standard input.

Nothing of a message is ever part of its words, so that no name of a beer can become an option or a command.
"""

import asyncio
import contextlib
import json
import os
import signal
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from fermwatch.contracts.notifier import CONTRACT_VERSION, Notification
from fermwatch.errors import ConfigError, NotifierRefused, NotifierUnavailable
from fermwatch.text import clean

COME_LATER = 75  # EX_TEMPFAIL of sysexits.h
_MOST_ERROR = 4096  # bytes of what it says that are kept
_END_S = 2.0  # for what was killed to be gone


class CommandOptions(BaseModel):
    """Keys of a notifier that runs a command."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    run: tuple[str, ...] = Field(
        min_length=1, max_length=64, description='The program and its words: ["/usr/local/bin/tell-me", "--loud"].'
    )
    limit_s: float = Field(30.0, gt=0.0, le=55.0, description="Seconds that it may take; then it is killed.")


class CommandNotifier:
    """Runs it without a shell. Its exit status says whether it took the message over: 0, or 75 for "come later"."""

    def __init__(self, options: CommandOptions, directory: Path) -> None:
        self._options, self._directory = options, directory

    async def send(self, message: Notification) -> None:
        options = self._options
        try:
            process = await asyncio.create_subprocess_exec(
                *options.run,
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.DEVNULL,
                stderr=asyncio.subprocess.PIPE,
                cwd=self._directory,
                start_new_session=True,
            )
        except OSError as error:
            reason = clean(error.strerror or str(error))
            raise NotifierRefused(f"{clean(options.run[0], 100)} cannot be run: {reason}.") from error
        said = json.dumps(message.as_plain()).encode()
        try:
            async with asyncio.timeout(options.limit_s):
                told, _ = await asyncio.gather(_heard(process), _fed(process, said))
                await process.wait()
        except TimeoutError as error:
            raise NotifierUnavailable(
                f"{clean(options.run[0], 100)} took longer than {options.limit_s:g} s, and was killed."
            ) from error
        finally:
            await _end(process)
        if process.returncode:
            why = clean(told.decode(errors="replace"), 200)
            text = f"{clean(options.run[0], 100)} ended with status {process.returncode}{f': {why}' if why else ''}."
            raise NotifierUnavailable(text)


async def _fed(process: asyncio.subprocess.Process, said: bytes) -> None:
    if process.stdin is not None:
        with contextlib.suppress(ConnectionError):  # it does not care for the message
            process.stdin.write(said)
            await process.stdin.drain()
        process.stdin.close()


async def _heard(process: asyncio.subprocess.Process) -> bytes:
    """The beginning of what it says; all of it is read, as what is not read would hold it up, or us at its end."""
    kept = b""
    while process.stderr is not None and (more := await process.stderr.read(_MOST_ERROR)):
        kept += more[: _MOST_ERROR - len(kept)]
    return kept


async def _end(process: asyncio.subprocess.Process) -> None:
    """With all that it began: what hangs on would go on for ever, one more with each message."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    with contextlib.suppress(TimeoutError):  # what left its group may hold the pipe still
        async with asyncio.timeout(_END_S):
            await _heard(process)
            await process.wait()


@dataclass(frozen=True, slots=True)
class CommandKind:
    """See `fermwatch.contracts.notifier.NotifierKind`."""

    contract_version: int = CONTRACT_VERSION
    options: type[CommandOptions] = CommandOptions

    def create(self, name: str, options: CommandOptions, directory: Path) -> CommandNotifier:
        """ConfigError where the program is named by a path that leads to none."""
        program = options.run[0]
        if "/" in program and not os.access(directory / program, os.X_OK):
            raise ConfigError(
                f"{clean(program, 200)}, which {name} is to run, is no program that may be run.",
                hint="Give its whole path, and make it executable: chmod +x.",
            )
        return CommandNotifier(options, directory)


NOTIFIER = CommandKind()
