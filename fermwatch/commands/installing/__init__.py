"""What `fermwatch init` does: a machine as it was found, the steps that are missing, and carrying them out."""
