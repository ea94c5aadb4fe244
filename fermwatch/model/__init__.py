"""The nouns: frozen values that know nobody above them and do no input or output."""
