"""Hand measurements: correcting what an instrument reads, comparing it with what is known, and telling of it."""
