"""A topic with named levels: what to subscribe to, and the channel that a message's topic stands for. Pure.

Matching goes level by level; no regular expression ever meets a topic.
"""

import re
from dataclasses import dataclass

NAMELESS = "value"  # the channel of a topic that names no level
_LONGEST = 65_535  # bytes of UTF-8, MQTT 5.0 section 1.5.4
_NAME = re.compile(r"\{[A-Za-z][A-Za-z0-9_-]{0,31}\}")


@dataclass(frozen=True, slots=True)
class NamedTopic:
    """levels: the fixed text of each level, None where it is named. open_ended: any levels may follow."""

    levels: tuple[str | None, ...]
    open_ended: bool

    @property
    def filter(self) -> str:
        """What to subscribe to (MQTT 5.0 section 4.7)."""
        levels = ["+" if level is None else level for level in self.levels]
        return "/".join([*levels, "#"] if self.open_ended else levels)

    def channel(self, topic: str) -> str | None:
        """The named levels' values and what follows, joined by "/"; None where the topic is not of this kind."""
        said = topic.split("/")
        if self._passes_over(said[0]):
            return None
        if len(said) < len(self.levels) or (len(said) > len(self.levels) and not self.open_ended):
            return None
        values = []
        for level, value in zip(self.levels, said, strict=False):
            if level is None:
                values.append(value)
            elif level != value:
                return None
        return "/".join([*values, *said[len(self.levels) :]]) or NAMELESS

    def covers(self, other: "NamedTopic") -> bool:
        """Whether every topic of the other kind is of this one too."""
        if self._passes_over(other.levels[0] if other.levels else None):
            return False
        if self.open_ended:
            fits = len(other.levels) >= len(self.levels)
        else:
            fits = not other.open_ended and len(other.levels) == len(self.levels)
        return fits and all(mine in (None, theirs) for mine, theirs in zip(self.levels, other.levels, strict=False))

    def overlaps(self, other: "NamedTopic") -> bool:
        """Whether some topic is of both kinds."""
        both = list(zip(self.levels, other.levels, strict=False))
        if any(None not in pair and pair[0] != pair[1] for pair in both):
            return False
        firsts = [one.levels[0] if one.levels else None for one in (self, other)]
        if self._passes_over(firsts[1]) or other._passes_over(firsts[0]):
            return False
        shorter, longer = sorted((self, other), key=lambda one: len(one.levels))
        return shorter.open_ended or len(shorter.levels) == len(longer.levels)

    def _passes_over(self, first: str | None) -> bool:
        """A level that differs, standing first, does not mean the broker's own topics (MQTT 5.0 section 4.7.2)."""
        return first is not None and first.startswith("$") and (not self.levels or self.levels[0] is None)

    def can_give(self, channel: str) -> bool:
        """Whether some topic of this kind has that channel."""
        named = sum(level is None for level in self.levels)
        count = len(channel.split("/")) if channel else 0
        if named == 0:
            return channel == NAMELESS or (self.open_ended and bool(channel))
        return count == named or (self.open_ended and count > named)


def parse_topic(text: str) -> NamedTopic:
    """Read a topic such as "cellar/{fermenter}/{what}" or "cellar/#".

    Raises ValueError with a sentence.
    """
    levels = text.split("/")
    open_ended = levels[-1] == "#"
    if open_ended:
        levels.pop()
    if not text or "\0" in text or len(text.encode("utf-8", "surrogatepass")) > _LONGEST:
        raise ValueError("a topic has 1 to 65535 bytes and no NUL")
    if levels[:1] == ["$share"]:
        raise ValueError("a shared subscription would give each message to only one of several watchers")
    names = [level for level in levels if _NAME.fullmatch(level)]
    if len(set(names)) < len(names):
        raise ValueError("each name in braces stands once in a topic")
    for level in levels:
        if level not in names and any(sign in level for sign in "+#{}"):
            raise ValueError('a level that differs is written as a name in braces, as {fermenter}; "#" may stand last')
    return NamedTopic(tuple(None if level in names else level for level in levels), open_ended)
