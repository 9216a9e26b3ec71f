r"""Lines that noise has touched.

A wrong speed, a bad cable or a power cut leaves bytes that are no text. They arrive as ``\xNN`` escapes, control
characters or U+FFFD. A number from such a line may lack a digit, so no reader takes one from it.
"""

import re

_CONTROL = r"[\x00-\x08\x0a-\x1f\x7f-\x9f\ud800-\udfff]"
_NO_TEXT = r"\ufffd|\\x[0-9a-fA-F]{2}"
_CONTROLS = re.compile(_CONTROL + r"|\\x(?:[01][0-9a-fA-F]|7[fF])")
_DAMAGE = re.compile(f"{_CONTROL}|{_NO_TEXT}")
_LINE_ENDS = re.compile(r"(?:\\x0[adAD]|\s)+\Z")


def is_damaged(text: str) -> bool:
    """Whether `text` holds bytes that are no text. A tab and letters of any language are text."""
    if text.isascii() and text.isprintable() and "\\" not in text:
        return False
    return _DAMAGE.search(text) is not None


def holds_controls(text: str) -> bool:
    """Whether the damage is more than letters of an unknown encoding: control characters, raw or escaped."""
    return _CONTROLS.search(text) is not None


def mended(text: str) -> str:
    """`text` with blanks for its damaged characters: only good for finding whole words, never for numbers."""
    return _DAMAGE.sub(" ", text).strip()


def bare(text: str) -> str:
    """`text` without blanks and line ends around it, escaped ones included (a recorder escapes a stray CR)."""
    return _LINE_ENDS.sub("", text).strip() if "\\" in text[-5:] else text.strip()
