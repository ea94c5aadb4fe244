"""fermwatch's own colours: ink on dark slate, and ink on paper. Screens use their meanings, never a colour by name."""

from textual.theme import Theme

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
THEMES = (DARK, LIGHT)
