"""A store as one SQLite file per site, in a directory."""
