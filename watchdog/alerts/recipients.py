"""Which people a message goes to."""

from collections.abc import Iterable

from watchdog.alerts.routes import Person
from watchdog.core.effects import Priority, Tell


def recipients(tell: Tell, people: Iterable[Person]) -> tuple[Person, ...]:
    """The people who take this priority, in the order of the settings.

    When nobody takes an urgent or high one, everybody gets it: it asks for action within minutes, and told to nobody it
    would be lost. A low one that nobody takes is told to nobody; it still stands in the log.
    """
    everybody = tuple(people)
    chosen = tuple(person for person in everybody if tell.priority in person.priorities)
    if not chosen and tell.priority is not Priority.LOW:
        return everybody
    return chosen
