"""Who an event of a duty calendar is about."""

import re

from watchdog.timetable.options import Meaning

_APART = re.compile(r"[\W_]+")


def who(meaning: Meaning, summary: str) -> tuple[str, ...]:
    """People of the settings that an event called `summary` names, in the order in which it names them; none: ().

    Whole words count, capitals do not. The longest name wins where one lies within another: 'tutor' is not heard in
    'evening tutor'.
    """
    if meaning.person is not None:
        return (meaning.person,)
    said = _plain(summary)
    known = [(_plain(word), person) for word, person in meaning.words]
    known += [(_plain(name), name) for name in meaning.names]
    found: list[tuple[int, str]] = []
    for word, person in sorted(known, key=lambda each: -len(each[0])):
        at = said.find(word) if word.strip() else -1
        if at >= 0:
            found.append((at, person))
            # what was heard is taken out, but for the blanks that part it from its neighbours
            said = said[: at + 1] + "\0" * (len(word) - 2) + said[at + len(word) - 1 :]
    return tuple(dict.fromkeys(person for _, person in sorted(found)))


def _plain(text: str) -> str:
    """Words with one blank around each, so that only whole ones match."""
    return f" {_APART.sub(' ', text).strip().casefold()} "
