"""How a snapshot is said and drawn, as plain values, for the dashboard and the text commands. No terminal."""
