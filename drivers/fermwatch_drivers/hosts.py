"""A host that a configuration names: nothing else may stand in it, for logs say it, and some write passwords there."""

import re

_HOST_AND_PORT = re.compile(r"[^:]+:[0-9]{1,5}")  # an IPv6 address has more colons
_IN_NO_HOST = re.compile(r"[^\w.:%-]")  # `%` names the interface of an IPv6 address


def refuse_more_than_a_host(said: object, noun: str, *, default_port: int, besides: str = "") -> None:
    """Before anything else is looked at, so that no error quotes it. Raises ValueError, without what stood there.

    said: the options as written. noun: whose host it is. besides: options that more may belong to, beside the port.
    """
    host = said.get("host") if isinstance(said, dict) else None
    if not isinstance(host, str):
        return
    if _IN_NO_HOST.search(host):
        raise ValueError(
            f"host is the {noun}'s name or address alone, as 192.0.2.10: what else stands in it belongs to port"
            f"{besides} (and a password that stood in this file should be changed)"
        )
    if _HOST_AND_PORT.fullmatch(host):
        raise ValueError(f"host is the {noun}'s name or address alone: say the port as port = {default_port}")
