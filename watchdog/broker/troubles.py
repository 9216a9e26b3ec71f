"""What is wrong just now, told at three places: at once to the log, always to who asks, and late to who must act."""

from collections.abc import Callable

from watchdog.clock import Clock


class Troubles:
    """Sentences by subject. What lasts for longer than `limit` s is reported; what passes by itself is not."""

    def __init__(
        self, clock: Clock, limit: float, report: Callable[[str | None], None], say: Callable[[str], None]
    ) -> None:
        self._clock = clock
        self._limit = limit
        self._report = report
        self._say = say
        self._by_subject: dict[str, tuple[str, float]] = {}
        self._reported: str | None = None

    def tell(self, subject: str, sentence: str | None) -> None:
        """What is wrong with `subject` now; None when nothing is. The same words are said once."""
        now = self._clock.now().elapsed
        before = self._by_subject.get(subject)
        if sentence is None:
            if self._by_subject.pop(subject, None) is not None and before is not None:
                self._say(f"MQTT: {subject} is well again after {now - before[1]:.0f} s")
        else:
            self._by_subject[subject] = (sentence, now if before is None else before[1])
            if before is None or before[0] != sentence:
                self._say(sentence)
        self.look()

    def look(self) -> None:
        """Report what has lasted, and take back what is over."""
        now = self._clock.now().elapsed
        lasting = [sentence for sentence, since in self._by_subject.values() if now - since >= self._limit]
        told = " ".join(lasting) or None
        if told != self._reported:
            self._reported = told
            self._report(told)

    @property
    def sentences(self) -> tuple[str, ...]:
        """All that is wrong now."""
        return tuple(sentence for sentence, _ in self._by_subject.values())
