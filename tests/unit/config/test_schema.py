"""What may be said, in a sentence for each key, and what it becomes."""

import typing
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel

from fermwatch.config.schema import Config, SourceConfig
from fermwatch.ingest.plug_ins import drivers
from fermwatch.model.probe import Calibration
from fermwatch.model.quantity import Unit
from fermwatch.model.rule_settings import RuleSettings
from tests.unit.config.files import VESSEL, WHOLE, loaded


def models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for field in model.model_fields.values():
        for part in (field.annotation, *typing.get_args(field.annotation)):
            if isinstance(part, type) and issubclass(part, BaseModel):
                yield from models(part)


ALL = [*models(Config), *(kind.options for kind in drivers().values())]


def test_every_table_is_looked_at() -> None:
    assert SourceConfig in ALL
    assert len(ALL) >= 8


@pytest.mark.parametrize("model", ALL, ids=lambda model: model.__name__)
def test_every_key_has_a_sentence_for_the_person(model: type[BaseModel]) -> None:
    for name, field in model.model_fields.items():
        assert field.description, f"{model.__name__}.{name}"
        assert field.description[0].isupper(), field.description
        assert field.description.endswith("."), field.description


def test_settings_of_a_fermenter_win_over_those_of_all(tmp_path: Path) -> None:
    text = (
        "[rules]\noutside_warning_h = 4\noutside_warning_c = 1\n" + VESSEL + "[vessel.rules]\noutside_warning_h = 1\n"
    )
    config = loaded(tmp_path, text).config
    assert config.rule_settings("left") == RuleSettings(outside_warning_h=1.0, outside_warning_c=1.0)
    assert config.rule_settings() == RuleSettings(outside_warning_h=4.0, outside_warning_c=1.0)


def test_a_probe_speaks_in_its_canonical_unit_and_is_silent_after_five_intervals_where_nothing_else_is_said(
    tmp_path: Path,
) -> None:
    (plain,) = (one.probe() for one in loaded(tmp_path, WHOLE).config.probe)
    assert (plain.unit, plain.every_s, plain.silent_after_s) == (Unit.CELSIUS, 60.0, 300.0)
    (slow,) = (one.probe() for one in loaded(tmp_path, WHOLE + "every_s = 900\n").config.probe)
    assert slow.silent_after_s == 4500.0
    (quick,) = (one.probe() for one in loaded(tmp_path, WHOLE + "every_s = 1\n").config.probe)
    assert quick.silent_after_s == 120.0
    (own,) = (one.probe() for one in loaded(tmp_path, WHOLE + "silent_after_s = 30\n").config.probe)
    assert own.silent_after_s == 30.0


def test_one_point_moves_and_two_points_stretch(tmp_path: Path) -> None:
    (moved,) = (one.probe() for one in loaded(tmp_path, WHOLE + "offset = -0.4\n").config.probe)
    assert moved.calibration == Calibration(-0.4)
    (stretched,) = (one.probe() for one in loaded(tmp_path, WHOLE + "points = [[0.4, 0], [20.9, 20.5]]\n").config.probe)
    assert stretched.calibration.apply(0.4) == pytest.approx(0.0)
    assert stretched.calibration.apply(20.9) == pytest.approx(20.5)


def test_a_store_beside_the_configuration_may_be_named_from_there(tmp_path: Path) -> None:
    assert loaded(tmp_path, '[store]\ndirectory = "data"\n').store == tmp_path / "data"
