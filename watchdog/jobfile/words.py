"""One line of a job file → code and words, however it is written.

    N17 G1 X41.25 Y-7.5 E.2 F2400 (wall) *88 ; comment
        code G1, words X 41.25, Y −7.5, E 0.2, F 2400

Lower case, no blanks, leading zeros and signs are all met. Reading stops at the first character that belongs to no word,
and such a line is `odd`. So is one with a number that is none (nan, 1e999), whose word is then left out.

Source: RS-274 (NISTIR 6556) and RepRap community wiki, page "G-code", for the words; E is always a word of its own here, so
an exponent is only read where its letter cannot be one: in the other case than its word (`X1e-05`), or in an E word.
"""

import re
from math import isfinite
from typing import NamedTuple

_COMMENT = re.compile(r"\([^)]*\)")
_NUMBERED = re.compile(r"\s*N\s*\d+\s*", re.IGNORECASE)
_CHECKED = re.compile(r"\*\s*\d+\s*$")
_CODE = re.compile(r"\s*([GMT])\s*([0-9]+)(\.[0-9]+)?", re.IGNORECASE)
_LETTER = re.compile(r"\s*([A-Za-z])\s*")
_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_EXPONENT = re.compile(r"[eE][-+]?[0-9]+")
_NO_NUMBER = re.compile(r"[-+]?(?:nan|inf(?:inity)?)", re.IGNORECASE)
_TEXT = frozenset({"M0", "M1", "M16", "M23", "M28", "M30", "M32", "M33", "M98", "M117", "M118", "M486", "M928"})
_LONGEST = 512  # characters of a command that are read; a comment does not count


class Line(NamedTuple):
    """What one line asks for."""

    code: str
    """'G1', 'M104', 'T0', subcodes with their dot; '' when the line holds no command"""
    words: dict[str, float | None]
    """numbers by letter, the last one where a letter comes twice; None for a letter without one"""
    odd: bool = False
    """something in it could not be read"""
    infinite: bool = False
    """a number in it is none, or has no end"""


_EMPTY = Line("", {})


def read_line(text: str) -> Line:
    """Read one line without its end. Total: any text gives a line."""
    body = text.partition(";")[0]
    if "(" in body:
        body = _COMMENT.sub(" ", body)
    numbered = _NUMBERED.match(body)
    if numbered is not None:
        body = body[numbered.end() :]
    body = _CHECKED.sub("", body).strip()
    if not body:
        return _EMPTY
    found = _CODE.match(body)
    if found is None:
        return Line("", {}, odd=True)
    letter, number, sub = found.groups()
    sub = sub.rstrip("0") if sub else ""
    code = f"{letter.upper()}{number.lstrip('0') or '0'}{'' if sub in ('', '.') else sub}"
    if code in _TEXT:
        return Line(code, {})
    return _read_words(code, body[:_LONGEST], found.end(), odd=len(body) > _LONGEST)


def _read_words(code: str, body: str, at: int, *, odd: bool) -> Line:
    words: dict[str, float | None] = {}
    infinite = False
    while at < len(body):
        found = _LETTER.match(body, at)
        if found is None or (found[1] in "GMgm" and words):  # a second command is for machines that read one a line
            return Line(code, words, True, infinite)
        at = found.end()
        letter = found[1]
        number = _NUMBER.match(body, at)
        if number is None:
            none = _NO_NUMBER.match(body, at)
            if none is not None:
                odd = infinite = True
                at = none.end()
            else:
                words[letter.upper()] = None
            continue
        at = number.end()
        exponent = _EXPONENT.match(body, at)
        if exponent is not None and (letter in "Ee" or letter.isupper() != exponent[0][0].isupper()):
            odd = True
            at = exponent.end()
        else:
            exponent = None
        value = float(number[0] + (exponent[0] if exponent else ""))
        if isfinite(value):
            words[letter.upper()] = value
        else:
            odd = infinite = True
    return Line(code, words, odd, infinite)
