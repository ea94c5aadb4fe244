"""What a process has loaded, seen from outside: the architecture that import contracts cannot show."""

import subprocess
import sys

import pytest


def loaded_after(code: str) -> set[str]:
    """The top-level modules in a fresh process after it has run `code`."""
    script = f"{code}\nimport sys; print(' '.join(sorted({{name.split('.')[0] for name in sys.modules}})))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    return set(done.stdout.splitlines()[-1].split())


def test_importing_the_watcher_loads_no_textual() -> None:
    assert not {"textual", "rich"} & loaded_after("import fermwatch.watching.watcher, fermwatch.commands.watch")


def test_status_is_light() -> None:
    heavy = {"textual", "rich", "pydantic", "numpy", "aiomqtt", "serial", "fermwatch_drivers", "fermwatch_sim", "scipy"}
    assert not heavy & loaded_after("import fermwatch.cli, fermwatch.commands.status")


@pytest.mark.parametrize(
    "module", ["fermwatch.model.batch", "fermwatch.contracts.store", "fermwatch.watching.deciding"]
)
def test_the_core_needs_nothing_heavy(module: str) -> None:
    assert not {"textual", "numpy", "aiomqtt", "sqlite3", "asyncio"} & loaded_after(f"import {module}")


def test_nothing_at_run_time_needs_scipy() -> None:
    deciding = "fermwatch.watching.watcher, fermwatch.replaying.replay, fermwatch.judgement.judge"
    assert "scipy" not in loaded_after(f"import {deciding}")
