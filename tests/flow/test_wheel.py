"""What `pipx install` or `pip install` takes: the wheel alone, in an environment of its own, away from its source."""

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

from fermwatch import __version__

ROOT = Path(__file__).resolve().parents[2]


def run(words: list[str | Path], where: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "FERMWATCH"))}
    return subprocess.run(
        words,
        cwd=where,
        env={**kept, "HOME": str(where), **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("wheel")
    done = run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", place], ROOT)
    assert done.returncode == 0, done.stderr
    return next(place.glob("*.whl"))


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The environment's programs. What fermwatch needs is lent to it, last on its path; its own code is not."""
    place = tmp_path_factory.mktemp("venv")
    made = run([sys.executable, "-m", "venv", "--without-pip", place], place)
    assert made.returncode == 0, made.stderr
    python = place / "bin" / "python"
    pip: list[str | Path] = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet"]
    done = run([*pip, "--no-deps", "--no-index", wheel], place)
    assert done.returncode == 0, done.stderr
    packages = run([python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], place).stdout.strip()
    (Path(packages) / "lent.pth").write_text(f"{sysconfig.get_path('purelib')}\n")
    return place / "bin"


def test_everything_that_is_no_python_is_in_it(wheel: Path) -> None:
    inside = {name for name in zipfile.ZipFile(wheel).namelist() if not name.endswith(("/", ".py"))}
    for package, where in (("fermwatch", ROOT), ("drivers/fermwatch_drivers", ROOT), ("sim/fermwatch_sim", ROOT)):
        data = (path for path in (where / package).rglob("*") if path.is_file() and path.suffix not in {".py", ".pyc"})
        for path in data:
            assert str(path.relative_to((where / package).parent)) in inside


def test_it_runs_from_there_and_not_from_the_working_copy(installed: Path, tmp_path: Path) -> None:
    where = run([installed / "python", "-c", "import fermwatch, fermwatch_sim; print(fermwatch.__file__)"], tmp_path)
    assert where.stdout.startswith(str(installed.parent)), where.stderr
    said = run([installed / "fermwatch", "--version"], tmp_path)
    assert said.stdout == f"fermwatch {__version__}\n", said.stderr


def test_the_demo_tells_its_stories_from_there(installed: Path, tmp_path: Path) -> None:
    said = run([installed / "fermwatch", "demo", "silent-probe", "--text"], tmp_path)
    assert said.returncode == 0, said.stderr
    assert "Mill Lane Mild" in said.stdout  # a story that begins with the demo
    assert "probe-silent raised" in said.stdout


def test_a_configuration_is_checked_from_there_with_the_drivers_that_ship(installed: Path, tmp_path: Path) -> None:
    config = tmp_path / "fermwatch.toml"
    source = '[[source]]\nname = "fridge"\ndriver = "modbus-tcp"\nhost = "192.0.2.1"\nmap = "worked-example"\n'
    config.write_text(f'{source}[[source]]\nname = "b"\ndriver = "mqtt"\nhost = "192.0.2.1"\ntopic = "a/{{b}}"\n')
    said = run([installed / "fermwatch", "--config", config, "check", "--configuration"], tmp_path)
    assert said.returncode == 0, said.stderr
    assert "fridge (modbus-tcp)" in said.stdout
