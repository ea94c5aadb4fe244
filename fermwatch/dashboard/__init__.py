"""The dashboard: opened, closed and killed at will, it only reads. The one room that knows Textual."""
