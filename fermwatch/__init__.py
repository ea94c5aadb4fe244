"""fermwatch watches home fermentations, from pitch to the last fresh bottle."""

__version__ = "0.1.0"
