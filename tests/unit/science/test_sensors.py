"""Sensors: frames that lie are refused, and every kind of wire fault has its sentence."""

import pytest

from fermwatch.errors import OutOfDomain, ProbeMisbehaving
from fermwatch.science import sensors

FRAME = bytes.fromhex("72014b467fff0e1057")  # 23.125 °C, from the kernel's document


def with_crc(body: str) -> bytes:
    data = bytes.fromhex(body)
    return data + bytes([sensors.crc8_maxim(data)])


def test_a_good_frame_gives_its_temperature() -> None:
    assert sensors.ds18b20_frame_c(FRAME) == 23.125


@pytest.mark.parametrize("bit", range(72))
def test_one_flipped_bit_is_always_found(bit: int) -> None:
    damaged = bytearray(FRAME)
    damaged[bit // 8] ^= 1 << bit % 8
    with pytest.raises(ProbeMisbehaving):
        sensors.ds18b20_frame_c(damaged)


def test_a_bus_stuck_low_is_not_zero_degrees_though_its_crc_is_good() -> None:
    stuck = bytes(9)
    assert sensors.crc8_maxim(stuck[:8]) == stuck[8]
    with pytest.raises(ProbeMisbehaving, match="stuck low"):
        sensors.ds18b20_frame_c(stuck)


def test_a_bus_stuck_high_is_refused() -> None:
    with pytest.raises(ProbeMisbehaving, match="CRC"):
        sensors.ds18b20_frame_c(b"\xff" * 9)


def test_85_degrees_is_refused_after_a_reset_only() -> None:
    with pytest.raises(ProbeMisbehaving, match="power-on"):
        sensors.ds18b20_frame_c(with_crc("50054b467fff0c10"))
    assert sensors.ds18b20_frame_c(with_crc("50054b467fff1010")) == 85.0


@pytest.mark.parametrize(("bits", "celsius"), [(12, 23.4375), (11, 23.375), (10, 23.25), (9, 23.0)])
def test_bits_that_a_resolution_leaves_undefined_are_masked(bits: int, celsius: float) -> None:
    assert sensors.ds18b20_temperature_c(0x0177, bits) == celsius


def test_masking_rounds_down_below_zero_too() -> None:
    assert sensors.ds18b20_temperature_c(0xFFF7, 9) == -1.0


@pytest.mark.parametrize("word", [0x07D1, 0xFC8F, -1, 0x10000])
def test_words_that_no_sensor_sends_are_refused(word: int) -> None:
    with pytest.raises(OutOfDomain):
        sensors.ds18b20_temperature_c(word)


def test_the_kernels_text_is_read_as_the_kernel_rounds() -> None:
    text = "91 01 4b 46 7f ff 0f 10 25 : crc=25 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n"
    assert sensors.w1_slave_temperature_c(text) == 25.062


@pytest.mark.parametrize(
    "text",
    [
        "",
        "t=23125",
        "72 01 4b 46 7f ff 0e 10 57 : crc=57 NO\n72 01 4b 46 7f ff 0e 10 57 t=23125\n",
        "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n",
        "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n91 01 4b 46 7f ff 0f 10 25 t=25062\n",
        "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=85000\n",
        "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n",
        "ff ff ff ff ff ff ff ff ff : crc=c9 NO\nff ff ff ff ff ff ff ff ff t=-62\n",
        "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\nmore\n",
    ],
)
def test_a_text_that_cannot_be_trusted_is_refused(text: str) -> None:
    with pytest.raises(ProbeMisbehaving):
        sensors.w1_slave_temperature_c(text)


def test_steinhart_and_hart_beats_beta_on_a_common_part_near_freezing() -> None:
    """10K3 thermistor table (Campbell 109SS manual, appendix C); its coefficients and beta 3977 from memory."""
    cold = 32_650.9  # 0 °C
    a, b, c = 1.129241e-3, 2.341077e-4, 8.775468e-8
    assert sensors.ntc_steinhart_temperature_c(cold, a, b, c) == pytest.approx(0.0, abs=0.003)
    assert abs(sensors.ntc_beta_temperature_c(cold, 10_000.0, 3977.0)) > 0.5


def test_a_broken_wire_is_no_temperature() -> None:
    for refused in (0.0, -1.0, 1e9):
        with pytest.raises(OutOfDomain):
            sensors.ntc_beta_temperature_c(refused)
    with pytest.raises(OutOfDomain):
        sensors.pt_temperature_c(1e6)
