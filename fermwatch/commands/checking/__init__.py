"""What `fermwatch check` looks at, each with one line and the remedy."""
