"""Listening to wires that nobody configured yet: any serial port, any topic of a broker. Nothing is ever written."""
