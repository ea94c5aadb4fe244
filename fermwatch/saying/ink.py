"""What is meant by a colour, wherever it will be shown, and where it cannot be."""

from enum import StrEnum


class Ink(StrEnum):
    """What a colour would mean. A calm screen uses only the first four."""

    PLAIN = "plain"
    FAINT = "faint"  # scales, labels, what is only background
    STRONG = "strong"  # names, the reading itself
    GOOD = "good"  # safe, where somebody waited for it
    PICK = "pick"  # the lane under the cursor
    ADVICE = "advice"
    WARNING = "warning"
    CRITICAL = "critical"
