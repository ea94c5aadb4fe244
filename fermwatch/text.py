"""Text from outside made harmless: it may hold terminal escapes, markup, or characters that turn the line around.

Cleaned once where it comes in, and again where it is shown. Nothing is dropped in silence: a control character is
shown as its escape, so that a brewer can see what a device sent.
"""

import unicodedata

# Invisible or direction-changing characters that no probe's name needs (Unicode TR 36, section 3).
_BIDI = {*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C}
_ZERO_WIDTH = {0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, 0x00AD}
_LINES = {0x2028, 0x2029}


def _harmless(character: str) -> bool:
    code = ord(character)
    if code in _BIDI or code in _ZERO_WIDTH or code in _LINES:
        return False
    return unicodedata.category(character) not in {"Cc", "Cs", "Co", "Cn"}


def _escape(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def clean(text: str | bytes, limit: int = 80) -> str:
    """One harmless line of at most `limit` characters; longer text ends in an ellipsis, invalid UTF-8 is escaped."""
    if isinstance(text, bytes):
        text = text[: 4 * limit + 4].decode("utf-8", errors="backslashreplace")
    pieces: list[str] = []
    length = 0
    for character in text[: limit + 1]:
        piece = character if _harmless(character) else _escape(character)
        if length + len(piece) > limit:
            pieces.append("…")
            break
        pieces.append(piece)
        length += len(piece)
    return "".join(pieces)
