"""fermwatch's own colours, ink on dark slate and ink on paper, and the terminal's. Screens use their meanings, never a
colour by name.
"""

from textual.theme import Theme

from fermwatch.dashboard.colours import Colours
from fermwatch.drawing.palette import ON_PAPER, ON_SLATE, Palette


def _theme(name: str, colours: Palette, *, dark: bool) -> Theme:
    return Theme(
        name=name,
        primary=colours.primary,
        secondary=colours.secondary,
        accent=colours.primary,
        foreground=colours.foreground,
        background=colours.background,
        surface=colours.surface,
        panel=colours.panel,
        success=colours.success,
        warning=colours.warning,
        error=colours.error,
        dark=dark,
        variables={
            "ink-faint": colours.faint,
            "ink-strong": colours.strong,
            "footer-key-foreground": colours.strong,
        },
    )


DARK = _theme("fermwatch-dark", ON_SLATE, dark=True)
LIGHT = _theme("fermwatch-light", ON_PAPER, dark=False)
# What is faint is said without a colour of its own, since bright black is invisible on many dark schemes; see the style
# sheet. Yellow is not read on white paper: a warning is told by its mark, and by bold.
TERMINAL = Theme(
    name="fermwatch-terminal",
    ansi=True,
    primary="ansi_cyan",
    secondary="ansi_cyan",
    accent="ansi_cyan",
    foreground="ansi_default",
    background="ansi_default",
    surface="ansi_default",
    panel="ansi_default",
    boost="ansi_default",
    success="ansi_green",
    warning="ansi_magenta",
    error="ansi_red",
    dark=True,
    variables={
        "ink-faint": "ansi_default",
        "ink-strong": "ansi_default",
        "footer-key-foreground": "ansi_default",
        "block-cursor-foreground": "ansi_black",
        "block-cursor-background": "ansi_cyan",
        "input-cursor-background": "ansi_default",
        "input-cursor-foreground": "ansi_black",
        "input-selection-background": "ansi_cyan",
        "ansi-background": "ansi_default",
        "ansi-foreground": "ansi_default",
        "border": "ansi_default",
        "border-blurred": "ansi_default",
    },
)
THEMES = {Colours.DARK: DARK, Colours.LIGHT: LIGHT, Colours.TERMINAL: TERMINAL}
