"""What wins: the command line, the environment, the user's file, the machine's file, the default."""

from pathlib import Path

import pytest

from fermwatch.config import locate as module
from fermwatch.config.locate import Place, locate
from fermwatch.errors import ConfigError


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """A machine with a configuration in every place; the environment without a word of fermwatch."""
    system = tmp_path / "etc"
    monkeypatch.setattr(module, "SYSTEM_DIRECTORY", system)
    monkeypatch.setattr(module, "SYSTEM_STATE", tmp_path / "var")
    for directory, name in (
        (system, "machine"),
        (tmp_path / "home" / ".config" / "fermwatch", "user"),
        (tmp_path / "asked", "asked"),
        (tmp_path / "environment", "environment"),
    ):
        directory.mkdir(parents=True)
        text = f'[site]\nname = "{name}"\n[store]\ndirectory = "store-of-{name}"\n'
        (directory / "fermwatch.toml").write_text(text)
    return {"HOME": str(tmp_path / "home")}


def test_the_file_named_on_the_command_line_wins_over_all(machine: dict[str, str], tmp_path: Path) -> None:
    asked = tmp_path / "asked" / "fermwatch.toml"
    machine["FERMWATCH_CONFIG"] = str(tmp_path / "environment" / "fermwatch.toml")
    assert locate(asked, None, None, machine) == Place(asked.parent / "store-of-asked", "asked", asked)


def test_then_the_one_in_the_environment(machine: dict[str, str], tmp_path: Path) -> None:
    machine["FERMWATCH_CONFIG"] = str(tmp_path / "environment" / "fermwatch.toml")
    assert locate(None, None, None, machine).site == "environment"


def test_then_the_users_own(machine: dict[str, str], tmp_path: Path) -> None:
    assert locate(None, None, None, machine).site == "user"
    elsewhere = tmp_path / "xdg" / "fermwatch"
    elsewhere.mkdir(parents=True)
    (elsewhere / "fermwatch.toml").write_text('[site]\nname = "xdg"\n')
    machine["XDG_CONFIG_HOME"] = str(tmp_path / "xdg")
    assert locate(None, None, None, machine).site == "xdg"


def test_then_the_machines(machine: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "home" / ".config" / "fermwatch" / "fermwatch.toml").unlink()
    assert locate(None, None, None, machine).site == "machine"


def test_and_without_any_there_is_a_default(machine: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "home" / ".config" / "fermwatch" / "fermwatch.toml").unlink()
    (tmp_path / "etc" / "fermwatch.toml").unlink()
    state = tmp_path / "home" / ".local" / "state" / "fermwatch"
    assert locate(None, None, None, machine) == Place(state, "home", None)


@pytest.mark.parametrize("origin", ["--config", "FERMWATCH_CONFIG"])
def test_a_file_that_was_named_and_is_not_there_is_no_reason_to_take_another(
    machine: dict[str, str], tmp_path: Path, origin: str
) -> None:
    absent = tmp_path / "absent.toml"
    machine["FERMWATCH_CONFIG"] = str(absent)
    with pytest.raises(ConfigError, match=f"no such file. It was named by {origin}"):
        locate(absent if origin == "--config" else None, None, None, machine)


def test_a_directory_that_was_named_is_told_to_be_one(machine: dict[str, str], tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"that is a directory\. Name the file in it: .*fermwatch\.toml"):
        locate(tmp_path, None, None, machine)


def test_the_store_is_where_the_command_line_the_environment_the_file_or_the_default_puts_it(
    machine: dict[str, str], tmp_path: Path
) -> None:
    user = tmp_path / "home" / ".config" / "fermwatch"
    assert locate(None, None, None, machine).store == user / "store-of-user"
    machine["FERMWATCH_STORE"] = str(tmp_path / "by-environment")
    assert locate(None, None, None, machine).store == tmp_path / "by-environment"
    assert locate(None, tmp_path / "by-word", None, machine).store == tmp_path / "by-word"
    del machine["FERMWATCH_STORE"]
    (user / "fermwatch.toml").write_text("")
    assert locate(None, None, None, machine).store == tmp_path / "home" / ".local" / "state" / "fermwatch"
    machine["XDG_STATE_HOME"] = str(tmp_path / "state")
    assert locate(None, None, None, machine).store == tmp_path / "state" / "fermwatch"


def test_the_machines_configuration_has_the_machines_store(machine: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "home" / ".config" / "fermwatch" / "fermwatch.toml").unlink()
    (tmp_path / "etc" / "fermwatch.toml").write_text("")
    assert locate(None, None, None, machine).store == tmp_path / "var"


def test_the_site_is_that_of_the_command_line_the_environment_the_file_or_home(machine: dict[str, str]) -> None:
    machine["FERMWATCH_SITE"] = "cellar"
    assert locate(None, None, "garage", machine).site == "garage"
    assert locate(None, None, None, machine).site == "cellar"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[site]\nname = 7\n", "site.name: must be a name in quotes"),
        ("[store]\ndirectory = 7\n", "store.directory: must be a path in quotes"),
    ],
)
def test_what_is_no_name_or_path_is_told(machine: dict[str, str], tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "asked" / "fermwatch.toml"
    file.write_text(text)
    with pytest.raises(ConfigError, match=words):
        locate(file, None, None, machine)
