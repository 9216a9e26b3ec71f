"""The message for an SMS gateway, in one part, or where it is wanted in two with the link.

A part holds 160 letters of the GSM alphabet, or 70 of any other (3GPP TS 23.038, sections 4 and 6.2.1; the alphabet from
memory); of two that belong together each holds 153 or 67 (3GPP TS 23.040, section 9.2.3.24.1, from memory). One letter from
outside it, such as ã, more than halves the room. So letters that the alphabet lacks go out without their accent, as people
write them; of a script that it lacks as a whole nothing is changed.
"""

import unicodedata

PART, PART_OTHER = 160, 70  # characters
TWO, TWO_OTHER = 2 * 153, 2 * 67
_GSM = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_TWO = frozenset("^{}\\[~]|€\f")  # each takes two places
_PLAIN = str.maketrans(
    {"–": "-", "—": "-", "…": "...", "’": "'", "‘": "'", "“": '"', "”": '"', "°": "", "³": "3", "·": "."}
)


def brief(word: str, first: str, link: str | None, *, two: bool = False) -> str:
    """`first` behind its `word`, and behind it `link` when one part (`two`: two of them) holds both; else the line alone."""
    line = plain(f"{word}: {first}")
    if link is None:
        return line
    both = f"{line} {link}"
    return both if fits(both, two=two) else line


def fits(text: str, *, two: bool = False) -> bool:
    """Whether one part, or `two`, hold `text`."""
    if all(letter in _GSM or letter in _TWO for letter in text):
        return sum(2 if letter in _TWO else 1 for letter in text) <= (TWO if two else PART)
    return len(text.encode("utf-16-le")) // 2 <= (TWO_OTHER if two else PART_OTHER)


def plain(text: str) -> str:
    """`text` in the GSM alphabet as far as it can be written there."""
    return "".join(letter if letter in _GSM else _bare(letter) for letter in text.translate(_PLAIN))


def _bare(letter: str) -> str:
    bare = "".join(part for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part))
    return bare if bare and all(part in _GSM for part in bare) else letter
