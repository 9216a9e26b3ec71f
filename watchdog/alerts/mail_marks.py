"""The lines at the end of a mail by which it can be answered: what to write, and the mark that must stay in the answer."""

from collections.abc import Iterator, Sequence

from watchdog.alerts.matters import Matter
from watchdog.alerts.wording import Wording


def by_mail(about: Sequence[Matter], wording: Wording) -> Iterator[str]:
    """Nothing where no mailbox is read. Of several alarms the numbers are those of the message's own lines."""
    say = wording.language.say
    if len(about) > 1:
        marked = [
            (number, mark)
            for number, matter in enumerate(about, 1)
            if matter.asks and (mark := wording.marks(matter)) is not None
        ]
        if marked:
            yield say("several.mail_answer")
            yield from (f"{number}. {mark}" for number, mark in marked)
        return
    (matter,) = about
    if not matter.asks and not matter.notice:
        return
    mark = wording.marks(matter)
    if mark is not None:
        yield say("fact.mail_layer", mark=mark) if matter.notice else say("fact.mail_answer", mark=mark)
    allow = wording.outlast_marks(matter)
    if allow is not None:
        yield say("fact.mail_allow", mark=allow)
