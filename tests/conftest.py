"""For every test: nothing of the developer's own machine is seen, and what the machine lacks is left out aloud."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.needs import everything_is_wanted, missing

# No test fails for being slow: not an example, nor the making of one.
settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("unhurried")

SKIPPED = 6  # beside pytest's own; no running again makes up for it


@pytest.fixture(autouse=True)
def hermetic_environment(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home of its own for each test, and none of the developer's settings."""
    home = tmp_path_factory.mktemp("home")
    for name in list(os.environ):
        if name.startswith(("FERMWATCH_", "XDG_", "TEXTUAL")) and name != "FERMWATCH_ALL":
            monkeypatch.delenv(name)
    for name in ("NO_COLOR", "COLORTERM", "CREDENTIALS_DIRECTORY", "NOTIFY_SOCKET"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("TZ", "UTC")
    return home


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    lacking = missing()
    if lacking and everything_is_wanted():
        wanted = sorted({name for names in lacking.values() for name in names})
        raise pytest.UsageError(f"FERMWATCH_ALL=1, and this machine lacks: {' '.join(wanted)}")
    for item in items:
        for marker, packages in lacking.items():
            if item.get_closest_marker(marker):
                item.add_marker(pytest.mark.skip(reason=f"needs {' '.join(packages)}"))


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Where everything is wanted, a test that skipped itself is a failure too."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if everything_is_wanted() and reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = SKIPPED
