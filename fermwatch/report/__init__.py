"""What is told in plain text and JSON: for pipes, screen readers and terminals without a screen."""
