"""What the commands share: reading the settings, speaking to the service, painting for a terminal."""

import argparse
import os
import sys
from pathlib import Path
from typing import Any, TextIO

from watchdog.service.control import Answer, NotRunning, ask
from watchdog.settings import BadSettings, Settings, load, load_surroundings
from watchdog.settings.load import Addresses, default_file
from watchdog.settings.places import Kept, of_caller

DONE, FOUND_WRONG, USAGE = 0, 1, 2


class Stop(Exception):
    """The command ends here: a sentence for stderr and the exit status."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


def settings_of(asked: argparse.Namespace, addresses: Addresses = "needed") -> Settings:
    """The settings that the command works with. Raises Stop with every mistake in them."""
    try:
        return load(settings_file(asked), addresses=addresses)
    except BadSettings as bad:
        raise Stop(USAGE, str(bad)) from None


def settings_file(asked: argparse.Namespace) -> Path | None:
    """The file that is named, else the usual one; None when there is none."""
    named: Path | None = asked.config
    return named if named is not None else default_file()


def surroundings_of(asked: argparse.Namespace) -> Settings:
    """Zone and places alone, whatever else the settings hold. Raises Stop with the mistakes in these."""
    file = settings_file(asked)
    if asked.config is None and file is not None and not os.access(file, os.R_OK):
        file = None  # the service's own, closed to this account for the secrets in it: the usual places are tried
    try:
        return load_surroundings(file)
    except BadSettings as bad:
        raise Stop(USAGE, str(bad)) from None


def places_of(asked: argparse.Namespace) -> Kept:
    """Where the service's things are."""
    return of_caller(surroundings_of(asked).places)


def ask_service(places: Kept, request: dict[str, Any], limit: float = 15.0) -> Answer:
    """The running service's answer. Raises Stop when none runs or none comes within `limit` s, or when it refuses."""
    try:
        return ask_if_running(places, request, limit)
    except NotRunning as down:
        raise Stop(
            FOUND_WRONG, f"{down}.\nNobody watches: no alert will come. Start it with: emberward watch"
        ) from None


def ask_if_running(places: Kept, request: dict[str, Any], limit: float = 15.0) -> Answer:
    """The running service's answer. Raises NotRunning when none runs, Stop when none comes within `limit` s or it refuses."""
    try:
        return ask(places.socket, request, limit)
    except OSError as silent:  # it listens and hangs, or hung up: it must not pass for one that is well
        fault = f"the service at {places.socket} took the question and gave no answer ({silent.strerror or silent})"
        raise Stop(FOUND_WRONG, f"{fault}. It may hang: alerts may not come. Look at its log.") from None
    except ValueError as refused:
        raise Stop(FOUND_WRONG, str(refused)) from None


def reference(written: str) -> int | str:
    """An incident's number, or what is written as it is (``machine/alarm``, or nothing that is known)."""
    return int(written) if written.isascii() and written.isdecimal() and len(written) <= 18 else written


def say(text: str = "") -> None:
    """One line for the person; in plain ASCII where the output takes nothing else."""
    print(text if takes(text) else plain_ascii(text), flush=True)


def takes(text: str) -> bool:
    """Whether standard output can show `text`."""
    try:
        text.encode(sys.stdout.encoding or "ascii", sys.stdout.errors or "strict")
    except UnicodeEncodeError:
        return False
    return True


_ASCII = str.maketrans(
    {"→": "->", "–": "-", "·": "-", "°": " deg ", "▲": "!!", "■": "!", "●": "*", "○": "o", "±": "+-", "²": "2", "…": "..."}
)  # fmt: skip


def plain_ascii(text: str) -> str:
    """`text` in ASCII; what has no likeness there is told by its number."""
    return text.translate(_ASCII).encode("ascii", "backslashreplace").decode("ascii")


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
