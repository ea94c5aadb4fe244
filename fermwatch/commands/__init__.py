"""One module for each text command: `arguments` says what it takes, `run` does it and gives the exit status."""
