"""What a configuration names is there, and a secret is read by nobody else."""

from pathlib import Path

import pytest

from fermwatch.config.named_files import what_is_amiss
from tests.unit.config.files import SOURCE, loaded

BROKER = '[[source]]\nname = "broker"\ndriver = "mqtt"\nhost = "localhost"\ntopic = "cellar/{what}"\nusername = "me"\n'


@pytest.mark.parametrize(
    ("mode", "label", "remedy"),
    [
        (None, "missing", "Write it"),
        (0o644, "open to others", "Run: chmod 600 "),
        (0o640, "open to others", "Run: chmod 600 "),
        (0o622, "open to others", "Run: chmod 600 "),
        (0o600, None, ""),
    ],
)
def test_a_password_file_is_there_and_private(tmp_path: Path, mode: int | None, label: str | None, remedy: str) -> None:
    secret = tmp_path / "secret"
    if mode is not None:
        secret.write_text("x")
        secret.chmod(mode)
    amiss = what_is_amiss(loaded(tmp_path, f'{BROKER}password_file = "{secret}"\n'))
    assert [one.label for one in amiss] == ([] if label is None else [label])
    assert all(str(secret) in one.said and remedy in one.remedy for one in amiss)


def test_an_authority_may_be_read_by_all_and_must_be_a_file(tmp_path: Path) -> None:
    authority = tmp_path / "authority.pem"
    said = f'{BROKER}tls = true\nca_file = "{authority}"\n'
    assert [one.label for one in what_is_amiss(loaded(tmp_path, said))] == ["missing"]
    authority.write_text("x")
    authority.chmod(0o644)
    assert what_is_amiss(loaded(tmp_path, said)) == ()
    authority.unlink()
    authority.mkdir()
    assert [one.label for one in what_is_amiss(loaded(tmp_path, said))] == ["no file"]


def test_a_port_is_no_file_that_must_be_there(tmp_path: Path) -> None:
    assert what_is_amiss(loaded(tmp_path, SOURCE.replace("/dev/ttyUSB0", str(tmp_path / "port")))) == ()


def test_a_directory_that_a_driver_looks_into_is_no_missing_file(tmp_path: Path) -> None:
    """Every machine with thermometers on a 1-Wire bus was told to name a file."""
    bus = f'[[source]]\nname = "bus"\ndriver = "one-wire"\ndirectory = "{tmp_path}"\n'
    assert what_is_amiss(loaded(tmp_path, bus)) == ()
    assert what_is_amiss(loaded(tmp_path, '[[source]]\nname = "bus"\ndriver = "one-wire"\n')) == ()
