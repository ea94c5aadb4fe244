"""Which public function computes a quantity of the check rows, and what it calls the row's inputs."""

from collections.abc import Callable, Mapping
from typing import Any

from fermwatch.science import (
    alcohol,
    carbonation,
    ethanol_water,
    extract,
    heat,
    hydrometer,
    refractometer,
    sensors,
    solubility,
)


class Quantity:
    """A function and the names of its parameters by the names of the rows' inputs; unnamed ones are the same."""

    def __init__(self, function: Callable[..., float | str], **parameters: str) -> None:
        self.function = function
        self.parameters = parameters

    def compute(self, inputs: Mapping[str, float | str]) -> float | str:
        arguments: dict[str, Any] = {self.parameters.get(name, name): value for name, value in inputs.items()}
        return self.function(**arguments)


def _constant(value: float) -> Callable[[], float]:
    return lambda: value


def _of_word(raw_hex: str, resolution_bits: int = 12) -> float:
    return sensors.ds18b20_temperature_c(int(raw_hex, 16), resolution_bits)


def _crc_in_hex(bytes_hex: str) -> str:
    return f"{sensors.crc8_maxim(bytes.fromhex(bytes_hex)):02X}"


def _pt1000(r_ohm: float) -> float:
    return sensors.pt_temperature_c(r_ohm, r0_ohm=1000.0)


def _balling(product: str) -> float:
    return alcohol.BALLING_YIELD_PER_100G_EXTRACT[product]


def _per_gram(sugar: str) -> float:
    return carbonation.sugar_named(sugar).co2_g_per_g


_GAS_OVER_BEER = {"p_gauge_bar": "pressure_bar_gauge", "t_C": "temperature_c", "p_atm_bar": "atmosphere_bar"}

QUANTITIES: Mapping[str, Quantity] = {
    "sg_to_plato": Quantity(extract.sg_to_plato, sg="gravity_sg"),
    "plato_to_sg": Quantity(extract.plato_to_sg),
    "sucrose_density": Quantity(extract.sucrose_density, t_C="temperature_c"),
    "sucrose_relative_density": Quantity(extract.relative_density, t_C="temperature_c", t_ref_C="reference_c"),
    "water_density": Quantity(extract.water_density, t_C="temperature_c"),
    "hydrometer_correct_sg": Quantity(
        hydrometer.correct_sg, reading="reading_sg", t_C="temperature_c", t_cal_C="calibration_c"
    ),
    "brix_to_nd": Quantity(refractometer.brix_to_nd),
    "nd_to_brix": Quantity(refractometer.nd_to_brix),
    "refractometer_temp_correction": Quantity(
        refractometer.temperature_correction_brix, brix_read="reading_brix", t_C="temperature_c"
    ),
    "refractometer_fg": Quantity(refractometer.final_gravity),
    "fg_linear_regression_2011": Quantity(refractometer.fg_linear_regression),
    "balling_yield_per_100g_extract": Quantity(_balling),
    "real_extract": Quantity(alcohol.real_extract),
    "abw": Quantity(alcohol.abw),
    "abv": Quantity(alcohol.abv),
    "rdf": Quantity(alcohol.real_attenuation),
    "adf": Quantity(alcohol.apparent_attenuation),
    "abv_from_gravity": Quantity(alcohol.abv_from_gravity, og="og_sg", fg="fg_sg"),
    "original_extract": Quantity(alcohol.original_extract, abw="abw_pct"),
    "ethanol_water_density_abv": Quantity(ethanol_water.density_abv, t_C="temperature_c"),
    "ethanol_water_density": Quantity(ethanol_water.density, t_C="temperature_c"),
    "abw_to_abv_ethanol_water": Quantity(ethanol_water.abw_to_abv),
    "abv_to_abw_ethanol_water": Quantity(ethanol_water.abv_to_abw),
    "co2_gas_density_0C_1atm": Quantity(_constant(solubility.GRAMS_PER_LITRE_PER_VOLUME)),
    "co2_henry_water": Quantity(solubility.henry_water, t_C="temperature_c"),
    "co2_volumes_in_beer": Quantity(solubility.volumes, **_GAS_OVER_BEER),
    "co2_g_per_L_in_beer": Quantity(solubility.grams_per_litre, **_GAS_OVER_BEER),
    "co2_residual_volumes": Quantity(carbonation.residual_volumes, t_C="warmest_c", p_atm_bar="atmosphere_bar"),
    "co2_per_g_sugar_stoichiometric": Quantity(_per_gram),
    "co2_per_g_extract_balling": Quantity(_constant(carbonation.CO2_PER_EXTRACT)),
    "co2_from_gravity_drop": Quantity(
        carbonation.co2_from_gravity_drop_g_per_l, og="og_sg", sg_from="from_sg", sg_to="to_sg"
    ),
    "bottle_pressure_gauge": Quantity(solubility.pressure_bar_gauge, **_GAS_OVER_BEER),
    "priming_sugar_g_per_L": Quantity(
        carbonation.priming_sugar_g_per_l, t_beer_C="warmest_c", p_atm_bar="atmosphere_bar"
    ),
    "wort_specific_heat": Quantity(heat.specific_heat_kj_per_kg_k, t_C="temperature_c"),
    "adiabatic_temperature_rise": Quantity(heat.adiabatic_rise_k),
    "heat_of_fermentation": Quantity(_constant(heat.HEAT_OF_FERMENTATION_KJ_PER_KG)),
    "heat_power_W": Quantity(heat.power_w, volume_L="volume_l"),
    "ds18b20_raw_to_c": Quantity(_of_word),
    "crc8_maxim": Quantity(_crc_in_hex),
    "w1_slave_parse": Quantity(sensors.w1_slave_temperature_c),
    "pt100_resistance": Quantity(sensors.pt_resistance_ohm, t_C="temperature_c"),
    "pt1000_temperature": Quantity(_pt1000),
    "ntc_steinhart_temperature": Quantity(sensors.ntc_steinhart_temperature_c, r_ohm="resistance_ohm"),
    "ntc_beta_temperature": Quantity(sensors.ntc_beta_temperature_c, r_ohm="resistance_ohm", beta_K="beta_k"),
}
