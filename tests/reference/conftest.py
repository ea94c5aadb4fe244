"""`pytest tests/reference --checks OTHER.csv` runs another file of check rows instead of the one kept here."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--checks", metavar="FILE", help="check rows to run instead of tests/reference/checks.csv")
