"""Why a broker did not let us in, or let go of us, in a person's words."""

import ssl
from collections import deque

import aiomqtt
from paho.mqtt.reasoncodes import ReasonCode

from fermwatch.errors import ProbeError, ProbeRefused, ProbeUnavailable
from fermwatch.text import clean
from fermwatch_drivers.mqtt.dialling import address, explain_tls
from fermwatch_drivers.mqtt.options import BrokerOptions

# Reason codes of MQTT 5.0 section 2.4; the library translates those of 3.1.1 into them.
UNSUPPORTED_PROTOCOL_VERSION = 0x84
_UNSPECIFIED = 0x80
_CLIENT_ID_NOT_VALID = 0x85
_BAD_USER_NAME_OR_PASSWORD = 0x86
_NOT_AUTHORISED = 0x87
_BANNED = 0x8A
_SESSION_TAKEN_OVER = 0x8E

_LOSSES_WITHIN_S = 300.0
_LOSSES_BORNE = 3
_OWN_CLIENT_ID = "Is a second watcher running with this configuration? Give each its own client_id."


def reason_code(error: BaseException | None) -> int | None:
    """The broker's reason code in an error of the library, or in its cause."""
    if error is None:
        return None
    code = getattr(error, "rc", None)
    if isinstance(code, ReasonCode):
        return int(code.value)
    return reason_code(error.__cause__)


def said_reason(error: BaseException | None) -> str:
    """The broker's reason in words; nothing where it only says that there was one."""
    if error is None:
        return ""
    code = getattr(error, "rc", None)
    if isinstance(code, ReasonCode):
        return "" if code.value == _UNSPECIFIED else clean(str(code))
    return said_reason(error.__cause__)


def explain_refusal(error: aiomqtt.MqttError, options: BrokerOptions, client_id: str) -> ProbeError:
    """Why the login failed."""
    place, code = address(options), reason_code(error)
    if isinstance(error.__context__, ssl.SSLError):
        return explain_tls(error.__context__, options)
    if options.tls and isinstance(error.__context__, OSError):
        return ProbeUnavailable(
            f"{place} hangs up when spoken to in TLS.", hint="Is it the broker's TLS port, usually 8883?"
        )
    if code in (_BAD_USER_NAME_OR_PASSWORD, _NOT_AUTHORISED):
        if options.username is None:
            return ProbeRefused(
                f"The broker at {place} lets nobody in without a login.", hint="Set username and password_file."
            )
        return ProbeRefused(
            f'The broker at {place} refuses the login of "{clean(options.username)}".',
            hint="Check the password, and that the broker knows this user.",
        )
    if code == _CLIENT_ID_NOT_VALID:
        return ProbeRefused(
            f'The broker at {place} does not accept the client id "{clean(client_id)}".', hint="Set another client_id."
        )
    if code == _BANNED:
        return ProbeRefused(f"The broker at {place} has banned us.", hint="Ask who runs it.")
    return ProbeUnavailable(
        f"The broker at {place} did not let us in ({said_reason(error) or clean(str(error))}).",
        hint="Is it an MQTT broker's port?",
    )


def explain_hang_up(options: BrokerOptions) -> ProbeUnavailable:
    """The connection ended before the broker's first answer."""
    hint = "Is the port right?" if options.tls else "Is the port right? One for TLS, usually 8883, needs tls = true."
    return ProbeUnavailable(f"{address(options)} hangs up when spoken to in MQTT.", hint=hint)


class Losses:
    """How often the connection was taken from us of late: two that use one client id throw each other out for ever."""

    def __init__(self) -> None:
        self._at_s: deque[float] = deque(maxlen=_LOSSES_BORNE + 1)

    def explain(
        self, error: aiomqtt.MqttError | None, options: BrokerOptions, client_id: str, now_s: float
    ) -> ProbeError:
        """The error to raise for a connection that was lost. Not every broker says that another came in our place."""
        place, code, reason = address(options), reason_code(error), said_reason(error)
        taken_over = code == _SESSION_TAKEN_OVER
        if taken_over or not reason:
            self._at_s.append(now_s)
        often = len(self._at_s) > _LOSSES_BORNE and now_s - self._at_s[0] <= _LOSSES_WITHIN_S
        if taken_over:
            kind = ProbeRefused if often else ProbeUnavailable
            return kind(
                f'Another program came in under our client id "{clean(client_id)}" at {place}.', hint=_OWN_CLIENT_ID
            )
        if often and not reason:
            return ProbeUnavailable(
                f"The broker at {place} drops us again and again, as where another program uses our client id "
                f'"{clean(client_id)}".',
                hint=_OWN_CLIENT_ID,
            )
        return ProbeUnavailable(f"The connection to the broker at {place} was lost{f' ({reason})' if reason else ''}.")
