"""fermwatch's own colours: ink on dark slate, and ink on paper; for a terminal and for a picture alike."""

from collections.abc import Mapping
from dataclasses import dataclass

from fermwatch.saying.ink import Ink


@dataclass(frozen=True, slots=True)
class Palette:
    """Each `#rrggbb`."""

    foreground: str
    background: str
    surface: str
    panel: str
    primary: str
    secondary: str
    success: str
    warning: str
    error: str
    faint: str
    strong: str

    @property
    def inks(self) -> Mapping[Ink, str]:
        return {
            Ink.PLAIN: self.foreground,
            Ink.FAINT: self.faint,
            Ink.STRONG: self.strong,
            Ink.GOOD: self.success,
            Ink.PICK: self.primary,
            Ink.ADVICE: self.primary,
            Ink.WARNING: self.warning,
            Ink.CRITICAL: self.error,
        }


BOLD = frozenset({Ink.STRONG, Ink.GOOD, Ink.CRITICAL})

ON_SLATE = Palette(
    foreground="#d3d6cf",
    background="#15191b",
    surface="#1b2023",
    panel="#23292c",
    primary="#8fb3b0",
    secondary="#6f8f8d",
    success="#8fbf7f",
    warning="#e2ab4a",
    error="#f07a62",
    faint="#79827f",
    strong="#f6f7f1",
)
ON_PAPER = Palette(
    foreground="#33393a",
    background="#f7f5ef",
    surface="#efece3",
    panel="#e6e2d6",
    primary="#2f6664",
    secondary="#4d7b79",
    success="#3d7a35",
    warning="#915800",
    error="#b3261e",
    faint="#74796f",
    strong="#0d1011",
)
