"""What people write, made fit to be kept and shown: one line, nothing that steers a terminal or turns the text round."""

import unicodedata
from typing import Final

LONGEST: Final = 500
"""characters of a note; more is a report, and belongs elsewhere"""
_JOINERS: Final = frozenset(
    "\u200c\u200d"
)  # of scripts that need them; all other format characters only hide or turn text
_SPACES: Final = frozenset({"Zs", "Zl", "Zp"})


def one_line(written: str) -> str:
    """`written` on one line, without control and format characters."""
    kept = []
    for letter in written:
        kind = unicodedata.category(letter)
        if letter in "\t\n\r\v\f\x85" or kind in _SPACES:
            kept.append(" ")
        elif kind not in {"Cc", "Cf", "Cs"} or letter in _JOINERS:
            kept.append(letter)
    return " ".join("".join(kept).split())


def words(written: object, what: str, most: int = LONGEST) -> str | None:
    """What somebody wrote as `what`; None where it is left out. Raises ValueError when nothing is left of it, or too much."""
    if written is None:
        return None
    if not isinstance(written, str):
        raise ValueError(f"{what}: this is no text")
    if len(written) > 100 * most:  # before any work is put into it
        raise ValueError(f"{what}: {len(written)} characters are too many. Keep it to {most}.")
    text = one_line(written)
    if not text:
        raise ValueError(f"{what}: nothing can be read in it. Write some words, or leave it out.")
    if len(text) > most:
        raise ValueError(f"{what}: {len(text)} characters are too many. Keep it to {most}.")
    return text


def number(written: object, what: str, low: float, high: float, unit: str) -> float | None:
    """A quantity; None where it is left out. Raises ValueError outside of `low` (not included) to `high`."""
    if written is None:
        return None
    if isinstance(written, bool) or not isinstance(written, int | float) or not low < written <= high:
        raise ValueError(f"{what}: write a number of {unit}, above {low:g} and at most {high:g}.")
    return float(written)
