"""A board that prints one line per reading on a serial port: USB, RS-232, Bluetooth, or a pseudo-terminal.

Known limits:
- POSIX only: it waits for the port's descriptor and locks it with flock and TIOCEXCL (not on pseudo-terminals).
- A source writes nothing to the port, but opening it asserts DTR, which restarts many boards; hence `settle_s`.
- The first line after opening is dropped unless a line end was heard before it: a board that speaks once in 15
  minutes is then first heard after up to 30.
- Without `time_field` or `sequence_field` a line that a board repeats counts as a new reading.
- Tried on pseudo-terminals; the faults of real adapters are known from their drivers' error codes.
"""
