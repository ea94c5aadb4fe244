"""What the filling of a package is reckoned on."""

from dataclasses import dataclass
from datetime import datetime

from fermwatch.model.batch import Batch, Event
from fermwatch.model.conditioning import Stood
from fermwatch.model.judgement import Judgement
from fermwatch.model.rule_settings import RuleSettings
from fermwatch.science.carbonation import ResidualCo2
from fermwatch.science.pressure_risk import FermentableLeft
from fermwatch.science.solubility import ATMOSPHERE_BAR


@dataclass(frozen=True, slots=True)
class Ground:
    """As it is known of a beer at one instant.

    batch: as it is. judged: of the package that was asked about. left: what may still ferment in it. residual: the CO2
    that it holds, unless a cylinder gives it; None where nothing tells, and origin, else of it in words, says what
    would. air_bar: how hard the air presses where it is filled. stood: where it is to stand, as measured until now.
    """

    batch: Batch
    at: datetime
    judged: Judgement
    left: FermentableLeft
    residual: ResidualCo2 | None
    origin: str
    events: tuple[Event, ...]
    settings: RuleSettings
    stands_by: str = ""
    stood: tuple[Stood, ...] = ()
    air_bar: float = ATMOSPHERE_BAR
