"""What people mean by what they answer. Where it is in doubt, nobody has taken the alarm on: it goes on being told.

An answer that is misread as a yes silences an alarm that nobody looks after; misread as a no it costs one more message. So
whatever sounds like a no is one. The words are those of the languages that messages are written in.
"""

import re
import unicodedata

_GREETING = re.compile(
    r"(?:(?:hi|hello|hey|dear|ola|oi|bom dia|boa tarde|boa noite|good (?:morning|afternoon|evening)|sorry|desculp[ae]m?)\b"
    r"(?: (?:all|there|watch|a todos|todos))?\W*)+"
)
_NO = re.compile(r"(?:no|nope|not|nao|n)\b")
_UNABLE = re.compile(
    r"\b(?:can ?not|can'?t|cant|won'?t|unable|not (?:me|here|there|now|in|at|able|possible)|i'?m away|am away|out of office|"
    r"no time|nobody|somebody else|someone else|"
    r"nao (?:posso|consigo|estou|sou|vou|da|e comigo)|ausente|ninguem|outra pessoa)\b"
)
_ALLOW = re.compile(r"(?:i |eu )?(?:allow|stay|i'?ll stay|will stay|fico|autorizo|autorizar)")
_LAYER = (
    (
        "skipped",
        re.compile(r"(?:skip|skipped|not looked|did not look|didn'?t look|nao vi|nao olhei|nao visto|saltar)\b"),
    ),
    ("bad", re.compile(r"(?:bad|poor|ma|mau|mal|not good|no good|nao esta bem|nao esta boa)\b")),
    ("good", re.compile(r"(?:good|ok|okay|fine|boa|bom|bem)\b")),
)


def declines(words: str) -> bool:
    """Whether somebody says, or may say, that it is not for them."""
    said = _plain(words)
    return _NO.match(said) is not None or _UNABLE.search(said) is not None


def allows(words: str) -> bool:
    """Whether somebody says that the job may go on and that they stay with it."""
    return not declines(words) and _ALLOW.match(_plain(words)) is not None


def of_layer(words: str) -> str | None:
    """How the first layer looks: 'good', 'bad' or 'skipped'; None where the answer does not begin with one of these."""
    said = _plain(words)
    return next((meaning for meaning, word in _LAYER if word.match(said)), None)


def _plain(words: str) -> str:
    """In lower case, without accents, greeting and what stands before the first letter."""
    said = "".join(
        letter
        for letter in unicodedata.normalize("NFKD", words.replace("’", "'").casefold())
        if not unicodedata.combining(letter)
    )
    said = re.sub(r"\A\W+", "", said)
    return _GREETING.sub("", said, count=1) if _GREETING.match(said) else said
