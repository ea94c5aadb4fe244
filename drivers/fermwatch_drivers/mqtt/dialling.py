"""Reaching a broker: its address, the connection, the certificates and the password, and why one of them failed."""

import os
import socket
import ssl
from dataclasses import dataclass
from pathlib import Path

from fermwatch.errors import ProbeRefused, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.blocking import in_thread
from fermwatch_drivers.mqtt.options import BrokerOptions
from fermwatch_drivers.reaching import LIMIT_S, reach
from fermwatch_drivers.secret_file import read_secret

# What OpenSSL calls X509_V_ERR_CERT_NOT_YET_VALID and X509_V_ERR_CERT_HAS_EXPIRED.
_NOT_YET_VALID, _EXPIRED = 9, 10
_WRONG_NAME = {62, 64}  # X509_V_ERR_HOSTNAME_MISMATCH, X509_V_ERR_IP_ADDRESS_MISMATCH


def address(options: BrokerOptions) -> str:
    return f"{clean(options.host)}:{options.broker_port}"


@dataclass(frozen=True, slots=True)
class Dialled:
    """A connected socket, and what to encrypt it with."""

    connection: socket.socket
    host: str
    tls: ssl.SSLContext | None

    def encrypted(self) -> socket.socket:
        """The socket, after the TLS handshake where there is one. Blocks for that; raises OSError."""
        if self.tls is None:
            return self.connection
        wrapped = self.tls.wrap_socket(self.connection, server_hostname=self.host, do_handshake_on_connect=False)
        try:
            wrapped.settimeout(LIMIT_S)
            wrapped.do_handshake()
        except BaseException:
            wrapped.close()
            raise
        return wrapped


async def dial(options: BrokerOptions) -> Dialled:
    """Connect to the broker. Raises ProbeUnavailable, or ProbeRefused where the certificates cannot be used."""
    tls = await tls_context(options)
    return Dialled(await reach(options.host, options.broker_port, "broker"), options.host, tls)


async def tls_context(options: BrokerOptions) -> ssl.SSLContext | None:
    """What to check the broker's certificate with; None without TLS. Raises ProbeRefused."""
    if not options.tls:
        return None
    cafile = None if options.ca_file is None else str(options.ca_file)
    try:
        return await in_thread(
            lambda: ssl.create_default_context(cafile=cafile),
            name="certificates",
            limit_s=LIMIT_S,
            discard=lambda _: None,
        )
    except OSError as error:
        reason = "holds no certificate in PEM form" if isinstance(error, ssl.SSLError) else clean(error.strerror or "")
        raise ProbeRefused(
            f"ca_file {clean(cafile or '')}: {reason}.", hint="It must be the certificate of the broker's authority."
        ) from error


def explain_tls(error: ssl.SSLError, options: BrokerOptions) -> ProbeRefused | ProbeUnavailable:
    """Why the encrypted connection did not come about."""
    place = address(options)
    if not isinstance(error, ssl.SSLCertVerificationError):
        return ProbeUnavailable(
            f"{place} does not speak TLS as we do ({clean(error.reason or str(error))}).",
            hint="Is it the broker's TLS port, usually 8883?",
        )
    if error.verify_code in (_NOT_YET_VALID, _EXPIRED):
        state = "is not valid yet" if error.verify_code == _NOT_YET_VALID else "has expired"
        return ProbeUnavailable(
            f"The certificate of {place} {state}, by this machine's clock.",
            hint="Check the clock first (timedatectl), then the certificate.",
        )
    if error.verify_code in _WRONG_NAME:
        return ProbeRefused(
            f"The certificate of {place} is for another name ({clean(error.verify_message)}).",
            hint="Set host to the name in the certificate.",
        )
    return ProbeRefused(
        f"The certificate of {place} is not trusted ({clean(error.verify_message)}).",
        hint="Set ca_file to the certificate of the authority that signed it.",
    )


async def password(options: BrokerOptions) -> str | None:
    """The password from where the configuration says that it is. Raises ProbeRefused, never showing it."""
    if options.password_env is not None:
        return _from_environment(options.password_env)
    path = options.password_file
    if options.password_credential is not None:
        path = _credential(options.password_credential)
    if path is None:
        return None
    ours_alone = options.password_credential is None  # systemd hands its own out as it sees fit
    return await in_thread(
        lambda: read_secret(path, "the broker's password", ProbeRefused, ours_alone=ours_alone),
        name="password",
        limit_s=LIMIT_S,
        discard=lambda _: None,
    )


def _from_environment(name: str) -> str:
    value = os.environ.get(name)
    if not value:
        raise ProbeRefused(
            f"The environment variable {clean(name)}, which should hold the broker's password, is not set.",
            hint="Set it for the watcher, or use password_file.",
        )
    return value


def _credential(name: str) -> Path:
    directory = os.environ.get("CREDENTIALS_DIRECTORY")
    if not directory or "/" in name:
        raise ProbeRefused(
            f"There is no systemd credential {clean(name)} here.",
            hint=f"Add LoadCredential={clean(name)}:/path/of/its/file to the service.",
        )
    return Path(directory) / name
