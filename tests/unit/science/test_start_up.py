"""One converted number must not cost the import of numpy: the command line is typed often."""

import subprocess
import sys

ONE_NUMBER_EACH = """
import sys
from fermwatch.science import (alcohol, carbonation, ethanol_water, extract, heat, hydrometer, packages, pressure_risk,
    refractometer, sensors, slips, solubility, yeasts)
extract.plato_to_sg(extract.sg_to_plato(1.048))
hydrometer.correct_sg(1.048, 25.0)
refractometer.final_gravity(12.5, 6.1)
carbonation.priming_sugar_g_per_l(2.4, 20.0)
pressure_risk.pressure_risk(pressure_risk.FermentableLeft(1.0, 1.0), carbonation.residual_interval(20.0, 20.0),
    pressure_risk.SugarDose(6.0), pressure_risk.Bottle(4.8))
sys.exit("numpy" in sys.modules)
"""


def test_floats_are_computed_without_numpy() -> None:
    assert subprocess.run([sys.executable, "-c", ONE_NUMBER_EACH], check=False).returncode == 0
