"""The signs that lanes are drawn with, one cell each, and their ASCII forms."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Glyphs:
    outside: str  # scale beyond the yeast's range
    low_edge: str
    band: str
    high_edge: str
    set_point: str
    pen: str  # where the beer stands
    pen_stale: str
    off_low: str  # the beer is beyond the scale's end
    off_high: str
    passed: str  # gravity already fermented away
    ahead: str
    uncertain: str  # where it may end
    likely: str  # where it most likely ends
    cursor: str
    rule: str
    reading: str  # a gravity measured by hand
    hair: str  # the cursor through a chart
    present: str  # now, through a chart that goes on into what is to come
    set_to: str  # along a chart: the controller's set point,
    plan: str  # and where the plan wants the beer
    at_work: str  # an output, by the share of the time that it was on: the less to the more
    braille: bool


DRAWN = Glyphs(
    outside="┄", low_edge="┝", band="━", high_edge="┥", set_point="╋", pen="█", pen_stale="▒",
    off_low="◂", off_high="▸",    passed="═", ahead="┄", uncertain="░", likely="┃", cursor="▌", rule="─",
    reading="●", hair="│", present="┊", set_to="·", plan="╍", at_work="▁▂▃▄▅▆▇█", braille=True,
)  # fmt: skip
TYPED = Glyphs(
    outside=".", low_edge="[", band="=", high_edge="]", set_point="+", pen="#", pen_stale="o",
    off_low="<", off_high=">",    passed="_", ahead=".", uncertain=":", likely="%", cursor="*", rule="-",
    reading="@", hair="|", present=";", set_to=",", plan="~", at_work=".:oO#", braille=False,
)  # fmt: skip
