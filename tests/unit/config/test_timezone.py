"""The machine's time zone, as far as it says one that is known."""

from pathlib import Path

import pytest

from fermwatch.config.timezone import machine_timezone


@pytest.mark.parametrize(
    ("link", "file", "zone"),
    [
        ("../usr/share/zoneinfo/Europe/Vienna", None, "Europe/Vienna"),
        ("/usr/share/zoneinfo/Etc/UTC", "America/Denver", "UTC"),
        (None, "America/Denver\n", "America/Denver"),
        (None, "\x1b[2J/../nowhere", "UTC"),
        ("/somewhere/else", None, "UTC"),
        (None, None, "UTC"),
    ],
)
def test_by_the_link_or_the_file(tmp_path: Path, link: str | None, file: str | None, zone: str) -> None:
    (tmp_path / "etc").mkdir()
    if link is not None:
        (tmp_path / "etc/localtime").symlink_to(link)
    if file is not None:
        (tmp_path / "etc/timezone").write_text(file)
    assert machine_timezone(tmp_path) == zone
