"""The systemd unit of the watcher. Pure.

Each directive is in systemd.exec(5), systemd.service(5) or systemd.resource-control(5). RestrictSUIDSGID is left out:
the store's and the inbox's directories hand their group on by the set-group-id bit, which it forbids to set.
"""

from collections.abc import Sequence
from pathlib import Path

from fermwatch.errors import InputError

NAME = "fermwatch.service"

_UNIT = """\
# Written by `fermwatch init`; `fermwatch init --remove` takes it away. Changes of your own: systemctl edit fermwatch
[Unit]
Description=fermwatch: watches fermentations
After=network-online.target time-sync.target modprobe@usbserial.service modprobe@cdc_acm.service
Wants=network-online.target modprobe@usbserial.service modprobe@cdc_acm.service
StartLimitIntervalSec=0

[Service]
Type=exec
ExecStart={program} --config {config} watch
ExecReload=/bin/kill -HUP $MAINPID
User={user}
Group={user}
{groups}StateDirectory=fermwatch
StateDirectoryMode=2750
UMask=0027
Restart=on-failure
RestartSec=5
RestartPreventExitStatus=78
TimeoutStopSec=20

NoNewPrivileges=yes
CapabilityBoundingSet=
ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
ProtectProc=invisible
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectClock=yes
ProtectHostname=yes
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
LockPersonality=yes
MemoryDenyWriteExecute=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallErrorNumber=EPERM
KeyringMode=private
RemoveIPC=yes
DevicePolicy=closed
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw
DeviceAllow=char-ttyAMA rw
DeviceAllow=char-ttyS rw
{writable}
[Install]
WantedBy=multi-user.target
"""


def unit(program: Sequence[str], config: Path, user: str, serial_group: str, store: Path | None) -> str:
    """Its text. program: the words that run fermwatch. serial_group: who may open ports; empty where none is there.
    store: where it is kept, where that is not the state directory of the service."""
    return _UNIT.format(
        program=" ".join(_argument(one) for one in program),
        config=_argument(str(config)),
        user=user,
        groups=f"SupplementaryGroups={serial_group}\n" if serial_group else "",
        writable=f"ReadWritePaths={_word(str(store))}\n" if store is not None else "",
    )


def _argument(text: str) -> str:
    return _word(text).replace("$", "$$")


def _word(text: str) -> str:
    """As systemd.syntax(7) reads one word: a percent sign begins a specifier, a blank ends it.

    InputError for what would end the line, and so begin another directive.
    """
    if not text.isprintable():
        raise InputError(
            f"{text!r:.80} cannot stand in a unit of systemd.", hint="Name a path without such characters."
        )
    plain = text.replace("%", "%%")
    if not any(one.isspace() or one in "\"'\\;" for one in text):
        return plain
    escaped = plain.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
