"""Real things that several tests start and stop."""
