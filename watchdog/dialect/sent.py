"""Lines that somebody sent to the machine.

    N2041 G1 X41.250 Y-7.5 E0.03125 F2400*45
    N line number   G1 code   X … F words   * checksum: XOR of every byte before it, decimal, 0 to 255

Letters may be small, blanks may be missing (`G1X4Y5E.2`), `;` begins a comment, `( … )` is one too. Five digits behind
the star are a CRC-16, which is not checked here. The text of M23, M117 and their like is kept unread: numbers in a file
name are none.
Source: RepRap community wiki, page "G-code", "Special fields: N and *"; NISTIR 6556 (Kramer, Proctor, Messina 2000) for words.
"""

import math
import re
from functools import reduce
from operator import xor

from watchdog.core.observations import Command, Observation, Unread
from watchdog.dialect.damage import bare, holds_controls, is_damaged

_NUMBERED = re.compile(r"[Nn]\s?(\d{1,10})\s*", re.ASCII)
_CHECKED = re.compile(r"\*\s*(\d{1,5})\Z", re.ASCII)
_CODE = re.compile(r"([GMTDgmtd])\s?0*(\d{1,5}(?:\.\d{1,3})?)\s*", re.ASCII)
_WORD = re.compile(r"([A-Za-z])[ \t]?([-+]?(?:\d+\.?\d*|\.\d+)(?:e-\d{1,2})?)?", re.ASCII)
_ASIDE = re.compile(r"\([^()]*\)|\"[^\"]*\"?")
_ONLY_WORDS = re.compile(r"(?:[XYZEFIJRABCUVWxyzefijrabcuvw]\s?[-+]?[\d.]+\s*)+", re.ASCII)
TEXT_CODES = frozenset(["M0", "M1", "M16", "M23", "M28", "M30", "M32", "M33", "M36", "M98", "M117", "M118", "M928"])
"""Codes that take a text, a file name or a message; words are not read from it."""
_LONGEST_NUMBER = 300  # digits that a float surely holds


def checksum(text: str) -> int:
    """XOR of the bytes of `text`, 0 to 255."""
    return reduce(xor, text.encode("utf-8", "surrogatepass"), 0)


def read(text: str) -> tuple[Observation, ...]:
    """The command in a sent line. A blank line or a comment is a command with the code ''. Never raises."""
    body = bare(text)
    number = good = None
    if body[:1] in ("N", "n"):
        numbered = _NUMBERED.match(body)
        if numbered is not None:
            body, number, good = body[numbered.end() :], int(numbered[1]), _checked(body)
            if "*" in body and (star := _CHECKED.search(body)):
                body = body[: star.start()]
    if ";" in body:
        body = body[: body.index(";")]
    if number is None and "*" in body and (star := _CHECKED.search(body.rstrip())):
        good, body = _checked(body.rstrip()), body[: star.start()]
    found = _CODE.match(body)
    if found is not None:
        code, rest = found[1].upper() + found[2], body[found.end() :].rstrip()
    elif body[:1] in ("T", "t") and len(body.rstrip()) <= 2:
        code, rest = "T", body[1:].strip()  # `T?`: the person is to choose
    else:
        code, rest = "", body.strip()
    takes_text = code in TEXT_CODES
    if is_damaged(body) and (not takes_text or holds_controls(body)):
        return (Unread(text, damaged=True),)
    if takes_text or not rest:
        return (Command(code, (), rest, number, good),)
    if not code and _ONLY_WORDS.fullmatch(rest) is None:
        return (Unread(text),)
    return (Command(code, _words(rest), rest, number, good),)


def _checked(line: str) -> bool | None:
    """Whether the checksum at the end of `line` is right; None without one or where it cannot be told."""
    star = _CHECKED.search(line)
    if star is None or len(star[1]) == 5:
        return None
    if checksum(line[: star.start()]) == int(star[1]):
        return True
    return None if "\\x" in line else False  # the bytes behind an escape are not known for sure


def _words(rest: str) -> tuple[tuple[str, float | None], ...]:
    if "(" in rest or '"' in rest:
        rest = _ASIDE.sub(" ", rest)
    words = tuple([(letter.upper(), float(number) if number else None) for letter, number in _WORD.findall(rest)])
    if len(rest) > _LONGEST_NUMBER:
        return tuple(
            (letter, None if number is not None and math.isinf(number) else number) for letter, number in words
        )
    return words
