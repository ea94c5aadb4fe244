"""Who runs the tests: a few that depend on the machine's pace are given a second chance, and nothing else."""

from pathlib import Path

import pytest

from tests.__main__ import failed_last, to_run_again


@pytest.mark.parametrize(
    ("failed", "again"),
    [
        (["tests/flow/test_demo.py::test_a"], True),
        (["tests/faults/test_a.py::test_a[b]", "tests/flow/test_demo.py::test_a"], True),
        (["tests/unit/test_a.py::test_a"], False),
        (["tests/flow/test_demo.py::test_a", "tests/properties/test_a.py::test_a"], False),
        ([f"tests/flow/test_demo.py::test_a[{number}]" for number in range(4)], False),
        ([], False),
    ],
)
def test_only_a_few_that_real_things_pace_run_again(failed: list[str], again: bool) -> None:
    assert to_run_again(failed) is again


def test_a_run_that_kept_nothing_has_nothing_to_run_again(tmp_path: Path) -> None:
    assert failed_last(tmp_path) == []
