"""The computing of the trade from the command line, one module for each calculation: `arguments` and `answer`."""
