# The only set-up that a new machine needs: Python 3.11 and make. `make demo` and `make test` do the rest.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check

.PHONY: demo test lint types contracts bench judge pictures wheel man clean help

help:
	@echo "make demo   an invented cellar, live, in this terminal"
	@echo "make test   everything that this machine can test"
	@echo "make lint types contracts   the other gates"
	@echo "make bench  speed and memory, each beside a baseline"
	@echo "make wheel man   what to install elsewhere, and the manual page, in dist/"
	@echo "make pictures   the README's pictures, from the demo at a fixed seed"
	@echo "make judge  grade the judgement on seeded simulated batches"

demo: $(VENV)/installed
	@$(BIN)/fermwatch demo

test: $(VENV)/installed-dev
	@$(BIN)/python -m tests

lint: $(VENV)/installed-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/installed-dev
	$(BIN)/mypy

contracts: $(VENV)/installed-dev
	$(BIN)/lint-imports

bench: $(VENV)/installed-dev
	$(BIN)/python -m tests.bench

judge: $(VENV)/installed-dev
	$(BIN)/python -m tests.judge
	$(BIN)/python -m tests.judge.closed

pictures: $(VENV)/installed-dev
	$(BIN)/python -m tests.pictures docs/pictures

wheel: $(VENV)/installed
	@$(BIN)/python -m hatchling build -t wheel -d dist

man: $(VENV)/installed
	@mkdir -p dist
	@$(BIN)/fermwatch manual > dist/fermwatch.1

clean:
	rm -rf $(VENV) build dist

# Two stamps, so that the demo does not wait for what only tests need. Byte-compiled, since start-up is felt.
$(VENV)/installed: requirements.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "fermwatch needs Python 3.11 or newer: make PYTHON=python3.11 demo")'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "Installing fermwatch into $(VENV) (once)"
	@$(PIP) install --quiet --require-hashes -r requirements.txt
	@$(PIP) install --quiet --no-deps --no-build-isolation -e .
	@$(BIN)/python -m compileall -q fermwatch drivers sim $(VENV)/lib || true
	@touch $@

$(VENV)/installed-dev: $(VENV)/installed requirements-dev.txt
	@echo "Installing what the tests need into $(VENV) (once)"
	@$(PIP) install --quiet --require-hashes -r requirements-dev.txt
	@$(BIN)/python -m compileall -q $(VENV)/lib || true
	@touch $@
