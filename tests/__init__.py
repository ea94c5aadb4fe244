"""The tests; `python -m tests` (which `make test` runs) runs all that the machine allows."""
