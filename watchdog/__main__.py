"""``python -m watchdog``: the same as the command ``emberward``."""

import sys


def main() -> int:
    """The command line; returns the exit status."""
    from watchdog.cli import run

    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
