"""What `fermwatch calc` prints: kept as text for review, checked against published figures, and light to start."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fermwatch.cli import main
from tests.dashboard.expected_text import Expected

EXPECTED = Expected(Path(__file__).parent / "expected")

TOUR = {
    "gravity": ("gravity", "1.048", "12.1P", "0.998"),
    "hydrometer": ("hydrometer", "1.012", "--sample", "25C", "--scale", "60F"),
    "hydrometer-table": ("hydrometer", "1.012"),
    "hydrometer-table-us": ("hydrometer", "1.012", "--units", "us"),
    "refractometer-wort": ("refractometer", "12.4Bx"),
    "refractometer-beer": ("refractometer", "6.2Bx", "--original-brix", "12.4"),
    "alcohol": ("alcohol", "1.052", "1.010"),
    "left": ("left", "1.052", "1.014", "1.010"),
    "priming": ("priming", "--volumes", "2.4", "--warmest", "21C", "--ended", "19C", "--volume", "18.2L"),
    "priming-us": (
        *("priming", "--volumes", "2.4", "--warmest", "70", "--volume", "5gal-US", "--units", "us"),
        *("--sugar", "glucose-monohydrate", "--altitude", "5000"),
    ),
    "pressure": ("pressure", "2.8"),
    "risk": ("risk", "--package", "returnable-glass", "--volumes", "2.4", "--warmest", "21C", "--storage", "25C"),
    "risk-too-early": (
        *("risk", "--package", "one-way-glass", "--volumes", "2.4", "--warmest", "20C"),
        *("--left", "4", "--left-sd", "1"),
    ),
    "keg": ("keg", "2.4"),
    "keg-us": ("keg", "--pressure", "12", "--units", "us"),
    "heat": ("heat", "1.052", "1.010", "--volume", "20L"),
    "sensor": ("sensor", "ds18b20", "0191"),
}


@pytest.mark.parametrize("name", TOUR)
def test_the_answer_reads_as_kept(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["calc", *TOUR[name]]) == 0
    shown = capsys.readouterr().out
    assert max(len(line) for line in shown.splitlines()) <= 80
    EXPECTED.check(name, shown)


def figures(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["calc", *words, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_alcohol_meets_the_worked_balance(capsys: pytest.CaptureFixture[str]) -> None:
    """OE 12, AE 2.5 °P: RE 4.218, ABW 4.015, ABV 5.127, ADF 79.17 (Balling, customary real extract)."""
    found = figures(capsys, "alcohol", "12P", "2.5P")
    assert found["real_extract_pct"] == pytest.approx(4.218, abs=0.002)
    assert found["alcohol_by_mass_pct"] == pytest.approx(4.015, abs=0.003)
    assert found["alcohol_by_volume_pct"] == pytest.approx(5.127, abs=0.005)
    assert found["apparent_attenuation_pct"] == pytest.approx(79.17, abs=0.05)


def test_a_keg_meets_the_gas_chart(capsys: pytest.CaptureFixture[str]) -> None:
    """40 °F and 10 psi hold 2.30 volumes (Zahm & Nagel chart, as printed in BrewingTechniques 2(1), 1994)."""
    assert main(["calc", "keg", "--pressure", "10psi", "--temperature", "40F", "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["by_temperature"]
    assert row["volumes"] == pytest.approx(2.30, abs=0.06)


@pytest.mark.parametrize(
    ("words", "celsius"),
    [
        (("ds18b20", "0191"), 25.0625),  # Maxim DS18B20 data sheet, table 1
        (("ds18b20", "FFF8"), -0.5),
        (("pt100", "107.79"), 20.0),  # IEC 60751
        (("pt1000", "1116.7"), 30.0),
        (("ntc", "12.5353kohm"), 20.0),
    ],
)
def test_a_sensor_meets_its_data_sheet(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], celsius: float
) -> None:
    assert figures(capsys, "sensor", *words)["temperature_c"] == pytest.approx(celsius, abs=0.02)


def test_a_kernels_text_is_read_from_its_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "w1_slave"
    frame = "72 01 4b 46 7f ff 0e 10 57"  # the example of the Linux kernel's document
    file.write_text(f"{frame} : crc=57 YES\n{frame} t=23125\n", encoding="ascii")
    assert figures(capsys, "sensor", "w1", str(file))["temperature_c"] == 23.125


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("gravity", "1048"), "Did you mean 1.048?"),
        (("alcohol", "1.010", "1.052"), "swapped"),
        (("alcohol", "1.052", ""), "No gravity was given"),
        (("left", "1.052", "1.010", "1.014"), "swapped"),
        (("refractometer", "1.048"), "looks like a specific gravity"),
        (("hydrometer", "1.012", "--sample", "66"), "If you meant °F"),
        (("priming", "--volumes", "2.4"), "Add --warmest 21C"),
        (("priming", "--volumes", "2.4", "--warmest", "18C", "--ended", "21C"), "temperature when activity ended"),
        (("priming", "--volumes", "2.4", "--warmest", "20C", "--sugar", "treacle"), "is not a sugar known here"),
        (("risk", "--package", "jar", "--warmest", "20C"), "No conditioning beer goes into a jar."),
        (("keg",), "Say the volumes wanted"),
        (("pressure", "9"), "is outside"),
        (("sensor", "ds18b20", "zz"), "is no word or frame"),
        (("sensor", "ds18b20", "000000000000000000"), "bus stuck low"),
        (("sensor", "w1", "nowhere"), "cannot be read"),
        (("sensor", "pt100", "9000"), "outside"),
    ],
)
def test_a_slip_is_told_in_a_line_or_two(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], told: str) -> None:
    assert main(["calc", *words]) == 2
    said = capsys.readouterr()
    assert told in said.err
    assert len(said.err.splitlines()) <= 2
    assert said.out == ""


@pytest.mark.parametrize("volumes", ["2.0", "2.4", "3.3"])
def test_pressure_and_risk_agree_on_what_does_not_ferment_on(volumes: str, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("risk", "--package", "heavy-glass", "--volumes", volumes, "--warmest", "20C", "--storage", "28C")
    risk = figures(capsys, *asked)
    (bottle,) = figures(capsys, "pressure", volumes, "--storage", "28C")["by_temperature"]
    assert risk["without_more_fermentation_bar_gauge"] == pytest.approx(bottle["bottle_bar_gauge"], abs=0.001)
    assert main(["calc", *asked]) == 0
    assert "as in `calc pressure`" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [
        ("pressure", "4", "--storage", "4C"),
        ("risk", "--package", "returnable-glass", "--volumes", "4", "--warmest", "20C", "--storage", "4C"),
    ],
)
def test_a_cold_store_is_not_what_a_bottle_is_judged_at(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert figures(capsys, *words)["judged_at_c"] == 25.0
    assert figures(capsys, *words, "--accident", "20C")["judged_at_c"] == 20.0
    assert main(["calc", *words]) == 0
    assert "25 °C, should it once get so warm by accident" in capsys.readouterr().out


def test_a_kegs_risk_talks_of_no_bottle(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", "risk", "--package", "keg", "--volumes", "2.4", "--warmest", "20C"]) == 0
    shown = capsys.readouterr().out
    assert "bottle" not in shown
    assert "relief valve" in shown


def test_a_keg_near_freezing_meets_the_coldest_row_of_the_chart(capsys: pytest.CaptureFixture[str]) -> None:
    """30 °F and 10 psi: 2.82 volumes (ASBC / Zahm-Nagel chart as widely printed)."""
    (row,) = figures(capsys, "keg", "2.82", "--temperature", "30F")["by_temperature"]
    assert row["pressure_bar_gauge"] == pytest.approx(10 / 14.504, abs=0.03)


def test_beer_that_holds_more_than_wanted_needs_no_sugar(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("priming", "--volumes", "0.5", "--warmest", "5C")
    assert {row["sugar_g_per_l"] for row in figures(capsys, *words)["sugars"]} == {0.0}
    assert main(["calc", *words]) == 0
    assert "No sugar is needed: the beer already holds more CO2 than that." in capsys.readouterr().out


def test_the_co2_of_a_batch_meets_ballings_balance(capsys: pytest.CaptureFixture[str]) -> None:
    """100 parts of extract give 46.286 of CO2 (Balling): 20 L of 1.052 (12.86 °P) to 4.42 °P of real extract.

    Reckoned on the wort that is 0.82 kg, on what is left of it 0.84: where it was 0.88, the beer's alcohol had been
    counted as if none of the wort's mass had gone away with the gas.
    """
    assert 0.82 <= figures(capsys, "heat", "1.052", "1.010")["co2_kg"] <= 0.85


@pytest.mark.parametrize("name", ["priming", "pressure", "risk"])
def test_whoever_asks_for_pressure_is_told_that_glass_bursts(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", *TOUR[name]]) == 0
    assert "can burst" in capsys.readouterr().out


def test_a_calculation_needs_no_store_and_imports_nothing_heavy() -> None:
    script = (
        "import sys; from fermwatch.cli import main; main(['calc', 'gravity', '1.048']); "
        "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    loaded = set(done.stdout.splitlines()[-1].split())
    assert not {"textual", "rich", "pydantic", "aiomqtt", "numpy", "serial", "scipy", "sqlite3"} & loaded
