"""What keeps the watch itself from its work, gathered from every part and told to the alarm `watch-impaired`."""

from collections.abc import Callable


class Health:
    """Sentences by subject; `changed` is called with all of them whenever one comes or goes."""

    def __init__(self, changed: Callable[[tuple[str, ...]], None]) -> None:
        self._changed = changed
        self._by_subject: dict[str, tuple[str, ...]] = {}

    def tell(self, subject: str, sentences: tuple[str, ...]) -> None:
        """`sentences` are what is wrong with `subject` now; none when nothing is."""
        if self._by_subject.get(subject, ()) == sentences:
            return
        if sentences:
            self._by_subject[subject] = sentences
        else:
            self._by_subject.pop(subject, None)
        self._changed(self.sentences)

    @property
    def sentences(self) -> tuple[str, ...]:
        """All that is wrong now."""
        return tuple(sentence for subject in sorted(self._by_subject) for sentence in self._by_subject[subject])
