"""No file, however wrong, gets more than one sentence; and the sentence names the file."""

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fermwatch.config.lines import line_of
from fermwatch.config.load import load
from fermwatch.errors import ConfigError
from fermwatch.ingest.plug_ins import drivers
from tests.unit.config.files import WHOLE

KINDS = drivers()
LINES = WHOLE.splitlines()


def attempt(file: Path, data: bytes) -> ConfigError | None:
    file.write_bytes(data)
    try:
        load(file, KINDS, {"HOME": str(file.parent)})
    except ConfigError as error:
        return error
    return None


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_taken_or_refused_in_one_sentence(tmp_path: Path, data: bytes) -> None:
    error = attempt(tmp_path / "fermwatch.toml", data)
    if error is not None:
        assert str(tmp_path) in str(error)
        assert "\n" not in error.hint


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.integers(0, len(LINES)),
    st.sampled_from(["nmae", "x", "unit", "id", "port", "rules", "password"]),
    st.sampled_from(["1", "nan", '"a"', "[]", "{}", "true", "1979-05-27", '"\\u001b[2J"']),
)
def test_any_stray_line_is_taken_or_refused_by_its_number(tmp_path: Path, at: int, key: str, value: str) -> None:
    lines = [*LINES[:at], f"{key} = {value}", *LINES[at:]]
    error = attempt(tmp_path / "fermwatch.toml", "\n".join(lines).encode())
    if error is not None:
        assert "\x1b" not in str(error)
        if error.line is not None:
            assert 1 <= error.line <= len(lines)


def test_a_line_is_found_by_its_table_and_count() -> None:
    text = "[a]\nx = 1\n[[b]]\nx = 1\n[[b]]\ny = 1\n[b.c]\nz = 1\n"
    assert line_of(text, ("a", "x")) == 2
    assert line_of(text, ("b", 0, "x")) == 4
    assert line_of(text, ("b", 1, "y")) == 6
    assert line_of(text, ("b", 1, "c", "z")) == 8
    assert line_of(text, ("b", 1, "missing")) == 5
    assert line_of(text, ("nowhere",)) is None
