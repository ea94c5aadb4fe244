"""Places that are named as a person in a directory names them, not from the root."""

from pathlib import Path

import pytest

from tests.support.running import Site


@pytest.mark.parametrize(
    ("place", "environment"),
    [(("--store", "kept/here"), {}), ((), {"FERMWATCH_STORE": "kept/here"}), ((), {"XDG_STATE_HOME": "kept"})],
    ids=["option", "environment", "state"],
)
def test_a_store_is_named_from_where_one_stands(
    place: tuple[str, ...], environment: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    site = Site(tmp_path / "site", environment, place=place)
    site.directory.mkdir()
    site.config.write_text('[[vessel]]\nid = "left"\nname = "Left"\nvolume_l = 30\n')
    with site.watched():
        assert [lane["vessel"] for lane in site.status()["fermenters"]] == ["left"]
    assert len(list(Path("kept").rglob("*.db"))) == 1
