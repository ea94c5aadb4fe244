"""What a setting of a rule may be: one answer, whether it is said in the file, to a command or in a request."""

import math
from dataclasses import fields, replace
from datetime import timedelta
from pathlib import Path

import pytest

from fermwatch.commands.batches.describing import rule_settings
from fermwatch.config.schema import known_settings
from fermwatch.errors import InputError, RequestRefused
from fermwatch.model.rule_settings import DEFAULTS, GREATEST, RuleSettings, WrongSetting, wrong_setting
from fermwatch.requests.checks import check_batch
from tests.support.samples import NOW, batch
from tests.unit.config.files import refused

WRONG = [
    {"outside_warnin_h": 1.0},
    {"outside_warning_hours": 3.0},
    {"colour": 1.0},
    {"outside_warning_h": -1.0},
    {"outside_warning_h": GREATEST * 1.01},
    {"freezing_c": -GREATEST * 1.01},
]


@pytest.mark.parametrize("said", WRONG, ids=str)
def test_what_is_no_setting_is_refused_in_the_same_words_everywhere(said: dict[str, float], tmp_path: Path) -> None:
    ((name, number),) = said.items()
    wrong = wrong_setting(said)
    assert wrong is not None
    in_file = str(refused(tmp_path, f"[rules]\n{name} = {number!r}\n"))
    with pytest.raises(InputError) as by_command:
        rule_settings([f"{name}={number!r}"])
    with pytest.raises(RequestRefused) as by_request:
        check_batch(replace(batch(), rule_settings=said), NOW + timedelta(days=1))
    for told in (in_file, str(by_command.value), str(by_request.value)):
        assert f"{name}: {wrong.why}" in told


def test_the_limits_themselves_may_be_said_and_numbers_that_are_none_may_not() -> None:
    at_the_limits = {"outside_warning_h": GREATEST, "conditioning_days": 0.0, "freezing_c": -GREATEST}
    assert wrong_setting(at_the_limits) is None
    assert known_settings(at_the_limits) == at_the_limits
    for number in (math.nan, math.inf, -math.inf):
        assert wrong_setting({"freezing_c": number}) is not None


def test_every_default_may_be_said() -> None:
    assert wrong_setting({one.name: getattr(DEFAULTS, one.name) for one in fields(RuleSettings)}) is None


def test_it_says_the_nearest_name_or_all_of_them() -> None:
    assert wrong_setting({"near_freezing": 1.0}) == WrongSetting(
        "near_freezing", "no such setting; did you mean near_freezing_c?"
    )
    unlike = wrong_setting({"colour": 1.0})
    assert unlike is not None
    assert all(one.name in unlike.why for one in fields(RuleSettings))
