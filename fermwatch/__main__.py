"""The program: `fermwatch`, and `python -m fermwatch`."""

import signal
import sys


def run() -> int:
    """The exit status. While its modules are being imported, an interrupt ends it as it ends a shell's own commands."""
    heard = signal.getsignal(signal.SIGINT) is signal.default_int_handler  # else a shell's background is deaf to it
    if heard:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from fermwatch.cli import main

    try:
        if heard:
            signal.signal(signal.SIGINT, signal.default_int_handler)
        return main()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(run())
