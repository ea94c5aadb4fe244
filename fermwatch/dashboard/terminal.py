"""What the terminal at hand can show: from its environment alone."""

from collections.abc import Mapping

# Their character sets hold no braille and few lines; what they are sent in UTF-8 may come out as garbage.
_TYPEWRITERS = ("linux", "vt52", "vt100", "vt102", "vt220", "ansi", "cons25")
_COERCED = ("C.UTF-8", "C.utf8", "UTF-8")  # the targets of PEP 538


def is_dumb(environment: Mapping[str, str]) -> bool:
    """It cannot place a cursor, so no dashboard can be drawn on it."""
    return environment.get("TERM", "") in {"", "dumb", "unknown"}


def has_few_colours(environment: Mapping[str, str]) -> bool:
    """Sixteen or none: what is mixed for more would be turned into the nearest of them, which may not be readable."""
    if environment.get("COLORTERM", "").lower() in {"truecolor", "24bit"}:
        return False
    kind = environment.get("TERM", "")
    return not any(word in kind for word in ("256color", "direct", "truecolor", "kitty", "ghostty", "alacritty"))


def needs_ascii(environment: Mapping[str, str]) -> bool:
    """Whether signs must be ASCII. FERMWATCH_ASCII=1 or 0 decides; else the terminal's kind and the locale do."""
    wish = environment.get("FERMWATCH_ASCII", "")
    if wish:
        return wish != "0"
    if environment.get("TERM", "") in _TYPEWRITERS:
        return True
    return not _locale(environment).upper().replace("-", "").endswith("UTF8")


def _locale(environment: Mapping[str, str]) -> str:
    """The locale for characters. Python puts one of its own into LC_CTYPE where LANG is C: that is not the user's."""
    characters, language = environment.get("LC_CTYPE", ""), environment.get("LANG", "")
    if characters in _COERCED and language:
        characters = ""
    return environment.get("LC_ALL") or characters or language
