"""Single key presses: from a terminal as they are pressed, else the first letter of each line."""

import os
import select
import sys
import termios
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

END: Final = ""
"""there are no more: end of input, or Ctrl-D"""
_ESCAPE, _CTRL_D = b"\x1b", b"\x04"


@contextmanager
def keys() -> Iterator[Callable[[], str]]:
    """A function that waits for the next key and gives it in lower case; `END` at the end.

    On a terminal Ctrl-C raises KeyboardInterrupt as usual, and the terminal is put back as it was in any case.
    """
    if not sys.stdin.isatty():
        yield _line
        return
    terminal = sys.stdin.fileno()
    before = termios.tcgetattr(terminal)
    try:
        tty.setcbreak(terminal)
        yield lambda: _key(terminal)
    finally:
        termios.tcsetattr(terminal, termios.TCSADRAIN, before)


def _line() -> str:
    line = sys.stdin.readline()
    return END if not line else line.strip()[:1].lower() or "\n"


def _skip_sequence(terminal: int) -> None:
    """An arrow or the like: a row of bytes of which none is meant as a letter (ECMA-48, 5.4: the last is from @ to ~)."""
    second = _soon(terminal)
    if second == b"O":
        _soon(terminal)
    elif second == b"[":
        while (byte := _soon(terminal)) and not b"@" <= byte <= b"~":
            pass


def _soon(terminal: int) -> bytes:
    """The next byte, if it follows at once."""
    return os.read(terminal, 1) if select.select([terminal], [], [], 0.05)[0] else b""


def _key(terminal: int) -> str:
    while True:
        pressed = os.read(terminal, 1)
        if not pressed or pressed == _CTRL_D:
            return END
        if pressed == _ESCAPE:
            _skip_sequence(terminal)
            continue
        if pressed in b"\r\n":
            return "\n"
        return pressed.decode("ascii", "replace").lower()
