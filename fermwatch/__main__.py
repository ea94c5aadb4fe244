"""`python -m fermwatch` is `fermwatch`."""

import sys

from fermwatch.cli import main

if __name__ == "__main__":
    sys.exit(main())
