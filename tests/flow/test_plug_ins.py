"""A plug-in that somebody else installed: what is not configured is nobody's trouble, what is configured is named."""

from pathlib import Path

import pytest

from fermwatch.contracts.driver import CONTRACT_VERSION
from tests.support.running import Site, probe, serial_source, vessel

THEIRS = '[[source]]\nname = "their-board"\ndriver = "theirs"\n'
GOOD = """
from dataclasses import dataclass, field
from pydantic import BaseModel

class Options(BaseModel):
    wavelength_nm: int = 600

class Theirs:
    def __init__(self, *arguments):
        pass
    async def run(self, intake):
        intake.connected("their port")
        import asyncio
        await asyncio.Event().wait()

class Kind:
    contract_version = VERSION
    options = Options
    quality = {}
    def create(self, *arguments):
        return Theirs(*arguments)

DRIVER = Kind()
""".replace("VERSION", str(CONTRACT_VERSION))
OLD = GOOD.replace(f"= {CONTRACT_VERSION}", f"= {CONTRACT_VERSION - 1}")


@pytest.fixture
def site(tmp_path: Path) -> Site:
    made = Site(tmp_path / "site", {"PYTHONPATH": str(tmp_path / "installed")})
    (tmp_path / "installed").mkdir()
    return made


def install(site: Site, code: str, *, package: str = "their-drivers", target: str = "DRIVER") -> None:
    """A package as an installer leaves it: its module, and what it registers."""
    installed = Path(site.environment["PYTHONPATH"])
    module = package.replace("-", "_")
    (installed / f"{module}.py").write_text(code)
    information = installed / f"{module}-2.1.dist-info"
    information.mkdir()
    (information / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: 2.1\n")
    (information / "entry_points.txt").write_text(f"[fermwatch.drivers]\ntheirs = {module}:{target}\n")


def check(site: Site, *tables: str) -> tuple[int, str, str]:
    site.configure(*tables)
    done = site.run("check")
    return done.returncode, done.stdout, done.stderr


BROKEN = ["raise RuntimeError('no licence found')", "import no_such_module", "def f(:", "raise SystemExit(3)"]


@pytest.mark.parametrize("code", BROKEN)
def test_a_broken_plug_in_that_nobody_configured_is_nobodys_trouble(site: Site, code: str) -> None:
    install(site, code)
    ours = (vessel(), serial_source("board", site.directory / "port"), probe("left-beer", "board", "t"))
    status, said, error = check(site, *ours)
    assert (status, error) == (0, "")
    assert "fermwatch.toml: right" in said
    with site.watched() as watching:
        watching.says("There is no port")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (BROKEN[0], "cannot be loaded (RuntimeError: no licence found)"),
        (BROKEN[1], "cannot be loaded (ModuleNotFoundError: No module named 'no_such_module')"),
        (BROKEN[2], "cannot be loaded (SyntaxError: "),
        (BROKEN[3], "cannot be loaded (SystemExit: 3)"),
        ("OTHER = 1", "cannot be loaded (AttributeError: "),
        ("DRIVER = object()", "is no driver: it says no contract_version"),
        (OLD, f"speaks contract {CONTRACT_VERSION - 1}, this fermwatch contract {CONTRACT_VERSION}"),
        (GOOD.replace("Options(BaseModel)", "Options"), "is no driver: its options are no pydantic model"),
    ],
)
def test_a_broken_plug_in_is_one_sentence_where_it_is_configured(site: Site, code: str, words: str) -> None:
    install(site, code)
    status, said, error = check(site, THEIRS)
    assert (status, said) == (78, "")
    assert error.count("\n") == 2, "one sentence and its remedy"
    assert f'{site.config}:5: source[1].driver: the driver "theirs" of their-drivers 2.1 {words}' in error


def test_one_that_fails_when_it_is_made_is_named_with_its_source(site: Site) -> None:
    install(site, GOOD.replace("return Theirs", "raise ValueError('\\n[/] no'); return Theirs"))
    status, said, error = check(site, THEIRS)
    assert (status, said) == (78, "")
    assert 'the driver "theirs" of the source "their-board" failed when it was made (ValueError: ' in error
    assert error.count("\n") == 2, "what a stranger says begins no line"


def test_two_packages_that_claim_one_name_are_both_named(site: Site) -> None:
    install(site, GOOD)
    install(site, GOOD, package="other-drivers")
    status, _, error = check(site, THEIRS)
    assert status == 78
    assert '"theirs" is registered by other-drivers 2.1 and their-drivers 2.1' in error


def test_a_good_one_is_watched_and_its_own_keys_are_checked(site: Site) -> None:
    install(site, GOOD)
    status, _, error = check(site, THEIRS + 'wavelength_nm = "red"')
    assert status == 78
    assert "wavelength_nm" in error
    assert check(site, THEIRS)[0] == 0
    with site.watched() as watching:
        watching.says("source their-board is connected: their port")


def test_a_name_that_nothing_is_installed_for_lists_what_is(site: Site) -> None:
    install(site, BROKEN[0])
    status, _, error = check(site, THEIRS.replace('"theirs"', '"thiers"'))
    assert status == 78
    assert "no driver is called 'thiers'.\n  Installed here: " in error
    assert all(name in error for name in ("mqtt", "serial-line", "theirs."))
