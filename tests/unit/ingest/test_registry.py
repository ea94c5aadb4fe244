"""Drivers come through the entry points that an outside one would use."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from fermwatch.contracts.driver import CONTRACT_VERSION
from fermwatch.errors import ConfigError
from fermwatch.ingest import registry
from fermwatch.ingest.registry import driver_kinds


def test_the_shipped_drivers_are_registered_like_anybodys() -> None:
    kinds = driver_kinds()
    assert {"serial-line", "mqtt"} <= set(kinds)
    assert set(driver_kinds(frozenset({"mqtt"}))) == {"mqtt"}


@pytest.mark.parametrize("name", ["serial-line", "mqtt"])
def test_each_has_a_sentence_for_every_option_and_says_what_it_promises(name: str) -> None:
    kind = driver_kinds()[name]
    assert kind.contract_version == CONTRACT_VERSION
    assert all(field.description for field in kind.options.model_fields.values())
    assert all(said == "done" or said.startswith("exempt: ") for said in kind.quality.values())


@dataclass
class Registered:
    name: str
    load: Callable[[], Any]


def _absent() -> None:
    raise ImportError("No module named 'their_port'")


@dataclass
class OldKind:
    contract_version: int = CONTRACT_VERSION - 1


@pytest.mark.parametrize(
    ("load", "words"), [(_absent, ("'theirs'", "No module named", "Reinstall")), (OldKind, ("'theirs'", "contract 0"))]
)
def test_one_that_cannot_be_used_is_named(
    monkeypatch: pytest.MonkeyPatch, load: Callable[[], Any], words: tuple[str, ...]
) -> None:
    monkeypatch.setattr(registry, "entry_points", lambda **_group: [Registered("theirs", load)])
    with pytest.raises(ConfigError) as caught:
        driver_kinds()
    assert all(word in str(caught.value) for word in words)
    assert driver_kinds(frozenset({"mqtt"})) == {}
