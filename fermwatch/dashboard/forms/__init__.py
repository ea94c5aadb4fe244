"""The forms by which a person writes something in: what each asks, and its state; no terminal."""
