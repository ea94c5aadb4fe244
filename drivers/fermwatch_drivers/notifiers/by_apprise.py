"""Mail, push and chat through the library apprise, an optional extra: pip install 'fermwatch[apprise]'.

Its addresses hold passwords: they are read from a file of their own and never shown, nor is what the library says of
them. What it loads besides people's services (programs to run, the local desktop) is refused.
"""

import asyncio
import logging
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from fermwatch.contracts.notifier import CONTRACT_VERSION, Notification
from fermwatch.errors import ConfigError, NotifierRefused, NotifierUnavailable
from fermwatch.model.finding import Severity
from fermwatch_drivers.secret_file import read_secret

_REFUSED = {"syslog", "rsyslog", "dbus", "qt", "kde", "glib", "gnome", "macosx", "windows", "growl", "workflows"}
_KIND = {Severity.ADVICE: "info", Severity.WARNING: "warning", Severity.CRITICAL: "failure"}


class AppriseOptions(BaseModel):
    """Keys of a notifier that apprise carries."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    address_file: Path = Field(
        description="A file of mode 600 with the addresses, one a line, as the library's own pages describe them."
    )


class AppriseNotifier:
    """Each message goes to every address; it counts as delivered when all have taken it."""

    def __init__(self, name: str, file: Path) -> None:
        self._name, self._file = name, file

    async def send(self, message: Notification) -> None:
        text = await asyncio.to_thread(read_secret, self._file, "the address", NotifierRefused)
        service = await asyncio.to_thread(self._service, text)
        sent = await service.async_notify(
            body=message.text, title=message.title, notify_type=_KIND[message.severity], body_format="text"
        )
        if not sent:
            raise NotifierUnavailable(
                f"apprise could not deliver by {self._name}.",
                hint="The service refuses, or is out of reach; its address file may be wrong.",
            )

    def _service(self, text: str) -> Any:  # noqa: ANN401 - the library is optional
        import apprise

        logging.getLogger("apprise").setLevel(logging.CRITICAL)  # its lines may quote addresses
        service = apprise.Apprise()
        lines = [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
        for number, line in enumerate(lines, 1):
            scheme = line.partition("://")[0].lower()
            if scheme in _REFUSED or not service.add(line):
                raise NotifierRefused(
                    f"Address {number} of {self._name} is none that is taken here.",
                    hint="Look at the library's own pages for how an address of that service is written.",
                )
        if not lines:
            raise NotifierRefused(f"The address file of {self._name} is empty.", hint="Write an address into it.")
        return service


@dataclass(frozen=True, slots=True)
class AppriseKind:
    """See `fermwatch.contracts.notifier.NotifierKind`."""

    contract_version: int = CONTRACT_VERSION
    options: type[AppriseOptions] = AppriseOptions

    def create(self, name: str, options: AppriseOptions, directory: Path) -> AppriseNotifier:
        """ConfigError where the library is not installed."""
        if find_spec("apprise") is None:
            raise ConfigError(
                f"{name} needs the library apprise, which is not installed.",
                hint="Run: pip install 'fermwatch[apprise]'",
            )
        return AppriseNotifier(name, directory / options.address_file.expanduser())


NOTIFIER = AppriseKind()
