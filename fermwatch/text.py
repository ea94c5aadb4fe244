"""Text from outside made harmless: it may hold terminal escapes, markup, or characters that turn the line around.

Cleaned once where it comes in, and again where it is shown, which then changes nothing. Nothing is dropped in silence:
a control character is shown as its escape, so that a brewer can see what a device sent.
"""

import shlex
import unicodedata

# Unicode's general categories (Unicode Standard, section 4.5) of what is no visible sign of a text: controls, formats
# (all that turn a line around or have no width are formats: Unicode TR 36, section 3), surrogates, private use,
# unassigned, line and paragraph separators.
_HARMFUL = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
# Signs of other categories that show nothing (Default_Ignorable_Code_Point of Unicode's DerivedCoreProperties).
_INVISIBLE = {0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x180B, 0x180C, 0x180D, 0x180F, 0x3164, 0xFFA0}
_VARIATIONS = (range(0xFE00, 0xFE10), range(0xE0100, 0xE01F0))


def _harmless(character: str) -> bool:
    code = ord(character)
    if code in _INVISIBLE or any(code in variations for variations in _VARIATIONS):
        return False
    return unicodedata.category(character) not in _HARMFUL


def _escape(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def harmless(text: str) -> str:
    """Lines as they are, but for what no terminal may act on: the last gate before one."""
    return "\n".join(
        line
        if line.isascii() and line.isprintable()
        else "".join(one if one == "\t" or _harmless(one) else _escape(one) for one in line)
        for line in text.split("\n")
    )


def in_quotes(name: str) -> str:
    """A name as a shell takes it for one word, whatever it holds: suggested commands are pasted."""
    return f'"{name}"' if name.isprintable() and not set(name) & set('"$`\\!') else shlex.quote(name)


def clean(text: str | bytes, limit: int = 80) -> str:
    """One harmless line of at most `limit` characters; longer text ends in an ellipsis, invalid UTF-8 is escaped."""
    if isinstance(text, bytes):
        text = text[: 4 * limit + 4].decode("utf-8", errors="backslashreplace")
    pieces = [one if _harmless(one) else _escape(one) for one in text[: limit + 1]]
    line = "".join(pieces)
    if len(line) <= limit:
        return line
    while len(line) >= limit:
        line = line[: -len(pieces.pop())]
    return f"{line}…"
