"""Speed and memory, each beside a baseline in the same run: `python -m tests.bench [NAME ...]`."""
