"""fermwatch's own colours, ink on dark slate and ink on paper, and the terminal's. Screens use their meanings, never a
colour by name.
"""

from textual.theme import Theme

from fermwatch.dashboard.colours import Colours

DARK = Theme(
    name="fermwatch-dark",
    primary="#8fb3b0",
    secondary="#6f8f8d",
    accent="#8fb3b0",
    foreground="#d3d6cf",
    background="#15191b",
    surface="#1b2023",
    panel="#23292c",
    success="#8fbf7f",
    warning="#e2ab4a",
    error="#f07a62",
    dark=True,
    variables={"ink-faint": "#79827f", "ink-strong": "#f6f7f1", "footer-key-foreground": "#f6f7f1"},
)
LIGHT = Theme(
    name="fermwatch-light",
    primary="#2f6664",
    secondary="#4d7b79",
    accent="#2f6664",
    foreground="#33393a",
    background="#f7f5ef",
    surface="#efece3",
    panel="#e6e2d6",
    success="#3d7a35",
    warning="#915800",
    error="#b3261e",
    dark=False,
    variables={"ink-faint": "#74796f", "ink-strong": "#0d1011", "footer-key-foreground": "#0d1011"},
)
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
