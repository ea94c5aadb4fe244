"""What may be said in the configuration, where it is found, and whose line is wrong."""
