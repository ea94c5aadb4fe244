"""What formulas of the trade say of the nouns: kinds of yeast, and a packaged beer in its bottles or keg. Pure."""
