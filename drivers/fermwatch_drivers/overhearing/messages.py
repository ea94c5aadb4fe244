"""A message of a broker that nobody configured: what numbers are in it, and as which channels. Pure."""

from urllib.parse import quote

from fermwatch.contracts.overhearing import SaidField
from fermwatch.errors import ProbeMisbehaving
from fermwatch_drivers import documents
from fermwatch_drivers.overhearing.lines import fields_of

LARGEST = 64 * 1024  # bytes, as the driver takes
_FRAGMENT_SAFE = "/~!$&'()*+,;=:@?"  # RFC 3986 section 3.5


def read_message(topic: str, payload: bytes) -> tuple[str, tuple[SaidField, ...]]:
    """How it is written ("number", "json", or nothing known), and its numbers.

    The channel of a field is what stands behind the topic's own part of it: nothing for a bare number, else "#" and
    the pointer.
    """
    try:
        text = payload.decode("utf-8").strip() if len(payload) <= LARGEST else ""
    except UnicodeDecodeError:
        return "", ()
    bare = fields_of({"value": text}, {"value": topic})
    if bare:
        field = bare[0]
        return "number", (SaidField("", topic, field.value, field.unit),)
    if text[:1] not in {"{", "["}:
        return "", ()
    try:
        document = documents.load(text)
    except ProbeMisbehaving:
        return "", ()
    said = {documents.format_pointer(pointer): value for pointer, value in documents.leaves(document)}
    fields = fields_of(said, {pointer: f"{topic}{pointer}" for pointer in said})
    return "json", tuple(
        SaidField(f"#{_fragment(field.channel)}", field.name, field.value, field.unit, field.unit_beside)
        for field in fields
    )


def _fragment(pointer: str) -> str:
    return quote(pointer, safe=_FRAGMENT_SAFE, errors="backslashreplace")
