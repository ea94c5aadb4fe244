"""`calc hydrometer`: a reading put right for temperature, scale and water check; without a temperature, a table."""

import argparse
from dataclasses import replace

from fermwatch.commands import amounts
from fermwatch.commands.calculations.calculated import Calculated, is_us, rounded
from fermwatch.commands.measurements.typed import SCALES_C, Typed, by_hydrometer
from fermwatch.science.extract import sg_to_plato

PURPOSE = "a hydrometer's reading put right for temperature and scale"
TABLE_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("reading", metavar="READING", help="as read: 1.012, 3.1P")
    parser.add_argument("--sample", metavar="23C", help="temperature of the sample; without it, a table")
    parser.add_argument("--scale", default="20C", metavar="|".join(SCALES_C), help="printed on it (20C)")
    parser.add_argument("--water-check", metavar="READING", help="what it reads in water of 20 °C")


def answer(options: argparse.Namespace) -> Calculated:
    us = is_us(options)
    sample = Typed(options.sample, True, options.scale, options.water_check, us=us)
    if options.sample is None:
        return _table(options.reading, sample, us=us)
    corrected = by_hydrometer(options.reading, sample)
    read_sg = amounts.gravity_sg(options.reading, what="reading")
    figures = {
        "gravity_sg": rounded(corrected.gravity_sg, 5),
        "uncertainty_sg": rounded(corrected.sd_points / 1000.0, 5),
        "extract_plato": rounded(sg_to_plato(corrected.gravity_sg), 3),
        "correction_points": rounded(1000.0 * (corrected.gravity_sg - read_sg), 2),
    }
    pairs = [
        ("read", ", ".join((options.reading.strip(), *corrected.steps))),
        ("gravity", f"{corrected.gravity_sg:.4f} ±{corrected.sd_points / 1000.0:.4f} SG 20/20"),
        ("extract", f"{figures['extract_plato']:.2f} °P"),
        ("corrected by", f"{figures['correction_points']:+.1f} points"),
    ]
    return Calculated(figures, pairs)


def _table(reading: str, sample: Typed, *, us: bool) -> Calculated:
    """What the same reading means at other temperatures."""
    found = [by_hydrometer(reading, replace(sample, temperature=f"{celsius:g}C")) for celsius in TABLE_C]
    read_sg = amounts.gravity_sg(reading, what="reading")
    body = [
        (
            amounts.celsius_said(celsius, us=us, places=0),
            f"{one.gravity_sg:.4f}",
            f"{1000.0 * (one.gravity_sg - read_sg):+.1f}",
            f"{one.sd_points:.1f}",
        )
        for celsius, one in zip(TABLE_C, found, strict=True)
    ]
    rows = [
        {
            "sample_c": celsius,
            "gravity_sg": rounded(one.gravity_sg, 5),
            "uncertainty_sg": rounded(one.sd_points / 1e3, 5),
        }
        for celsius, one in zip(TABLE_C, found, strict=True)
    ]
    remark = f"A reading of {reading.strip()} on a scale of {sample.scale}, by the temperature of the sample."
    return Calculated(
        {"by_sample_temperature": rows}, header=("sample", "SG 20/20", "points", "±"), body=body, remarks=[remark]
    )
