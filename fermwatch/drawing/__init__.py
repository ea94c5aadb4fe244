"""How what is said stands in cells: lines of inked text, as plain values. No terminal."""
