"""The pages: each a frozen state with pure functions of it. To add one: write it, and add it to the registry."""
