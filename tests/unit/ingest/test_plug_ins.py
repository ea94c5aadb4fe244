"""Plug-ins come through the entry points that an outside one would use; tests/flow/test_plug_ins.py breaks some."""

import sys
from pathlib import Path

import pytest
from pydantic import BaseModel

from fermwatch.contracts.driver import CONTRACT_VERSION
from fermwatch.contracts.plug_in import Group, Kind
from fermwatch.errors import ConfigError
from fermwatch.ingest.plug_ins import PlugIns, drivers


def test_the_shipped_drivers_are_registered_like_anybodys() -> None:
    assert {"serial-line", "mqtt"} <= set(drivers())


@pytest.mark.parametrize("name", ["serial-line", "mqtt"])
def test_each_has_a_sentence_for_every_option_and_says_what_it_promises(name: str) -> None:
    kind = drivers()[name]
    assert kind.contract_version == CONTRACT_VERSION
    assert all(field.description for field in kind.options.model_fields.values())
    assert all(said == "done" or said.startswith("exempt: ") for said in kind.quality.values())


class Bells(BaseModel):
    rings: int = 3


BELLS: Group[Kind] = Group("fermwatch.bells", "bell", 4)  # a kind of plug-in that nothing else knows
TOWER = """
from tests.unit.ingest.test_plug_ins import Bells
class Bell:
    contract_version, options = 4, Bells
"""


@pytest.fixture
def tower(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(tmp_path))
    (tmp_path / "tower.py").write_text(TOWER)
    (tmp_path / "cracked.py").write_text("import no_such_module")
    information = tmp_path / "belfry-1.0.dist-info"
    information.mkdir()
    (information / "METADATA").write_text("Metadata-Version: 2.1\nName: belfry\nVersion: 1.0\n")
    points = "[fermwatch.bells]\nlarge = tower:Bell\nsmall = cracked:Bell\nodd = tower:Bells\n"
    (information / "entry_points.txt").write_text(points)


@pytest.mark.usefixtures("tower")
def test_any_kind_of_plug_in_is_found_alike_and_only_the_one_asked_for_is_loaded() -> None:
    bells = PlugIns(BELLS)
    assert (sorted(bells), len(bells), "small" in bells) == (["large", "odd", "small"], 3, True)
    assert "tower" not in sys.modules
    assert bells["large"].options.model_fields.keys() == {"rings"}
    with pytest.raises(ConfigError, match=r'the bell "small" of belfry 1\.0 cannot be loaded'):
        bells.get("small")
    with pytest.raises(ConfigError, match=r'the bell "odd" of belfry 1\.0 is no bell'):
        bells.get("odd")
    assert bells.get("none") is None
