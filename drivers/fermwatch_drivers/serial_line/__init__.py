"""A board that prints one line per reading on a serial port: USB, RS-232, Bluetooth, or a pseudo-terminal."""
