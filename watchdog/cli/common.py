"""What the commands share: reading the settings, speaking to the service, painting for a terminal."""

import argparse
import sys
from pathlib import Path
from typing import Any, TextIO

from watchdog.settings import BadSettings, Settings, load
from watchdog.settings.load import default_file
from watchdog.settings.places import Kept, of_caller

DONE, FOUND_WRONG, USAGE = 0, 1, 2


class Stop(Exception):
    """The command ends here: a sentence for stderr and the exit status."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


def settings_of(asked: argparse.Namespace) -> Settings:
    """The settings that the command works with. Raises Stop with every mistake in them."""
    file: Path | None = asked.config
    try:
        return load(file if file is not None else default_file())
    except BadSettings as bad:
        raise Stop(USAGE, str(bad)) from None


def places_of(asked: argparse.Namespace) -> Kept:
    """Where the service's things are, as far as the settings can be read."""
    return of_caller(settings_of(asked).places)


def say(text: str = "") -> None:
    """One line for the person."""
    print(text, flush=True)


def complain(text: str) -> None:
    """One line on stderr."""
    print(text, file=sys.stderr, flush=True)


_CODES = {"bold": "1", "dim": "2", "red": "31", "yellow": "33", "blue": "34"}


def paint(text: str, *styles: str, on: TextIO | None = None) -> str:
    """`text` in colour on a terminal, plain elsewhere. Colour is never the only sign."""
    stream: Any = on if on is not None else sys.stdout
    if not styles or not stream.isatty():
        return text
    return f"\x1b[{';'.join(_CODES[style] for style in styles)}m{text}\x1b[0m"


def span(seconds: float) -> str:
    """A duration as people say it: ``45 s``, ``12 min``, ``1 h 05 min``."""
    whole = max(0, round(seconds))
    if whole < 90:
        return f"{whole} s"
    minutes = round(whole / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
