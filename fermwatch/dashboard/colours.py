"""In which colours the dashboard is shown: what a person chooses and what is kept of it."""

from enum import StrEnum


class Colours(StrEnum):
    """One key turns from each to the next."""

    DARK = "dark"
    LIGHT = "light"
    TERMINAL = "terminal"  # the terminal's own colours, whatever they are

    @property
    def named(self) -> str:
        return {Colours.DARK: "dark", Colours.LIGHT: "light"}.get(self, "the terminal's own colours")

    @property
    def next(self) -> "Colours":
        every = tuple(Colours)
        return every[(every.index(self) + 1) % len(every)]
