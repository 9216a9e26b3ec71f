"""Complaints in rations: the first few, then one in a hundred, then one word that it is over."""

from collections.abc import Callable

FIRST = 3
THEN_EVERY = 100


class Complaints:
    """Says what keeps going wrong without filling a log.

    `say` takes a sentence. `trouble` is the latest sentence, None while all is well: for a status, which is never rationed.
    """

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self.trouble: str | None = None
        self.count = 0
        """complaints since things were last well"""
        self._since = 0.0

    def about(self, sentence: str, elapsed: float) -> None:
        """It went wrong, or is still wrong. `elapsed` in s. A sentence that differs from the last is always said."""
        if self.count == 0:
            self._since = elapsed
        news = sentence != self.trouble
        self.trouble = sentence
        self.count += 1
        if news or self.count <= FIRST or self.count % THEN_EVERY == 0:
            self._say(sentence if self.count == 1 else f"{sentence} ({self.count} times now)")

    def over(self, elapsed: float) -> None:
        """All is well (again). Silent when nothing had been wrong."""
        if self.count:
            self._say(f"well again after {max(0.0, elapsed - self._since):.0f} s, {self.count} complaints")
        self.count = 0
        self.trouble = None
