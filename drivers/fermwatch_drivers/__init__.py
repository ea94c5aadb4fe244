"""Drivers that ship with fermwatch: bytes to frames to raw readings, and the port."""
