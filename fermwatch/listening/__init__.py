"""What was overheard, made sense of: what a number is likely to be, and how a configuration would say so. Pure."""
