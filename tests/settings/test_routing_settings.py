"""Who is told when, as a teacher writes it: read into a plan, and every mistake named."""

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.core.effects import Priority
from watchdog.core.routing import Ladder, Lessons, Outside, RoutingPlan, Rung, problems, usual
from watchdog.settings import load
from watchdog.settings.model import Settings
from watchdog.settings.routing import Routing, plan_of

URGENT, HIGH, LOW = Priority.URGENT, Priority.HIGH, Priority.LOW
PEOPLE = """
[routes.push]
url = "json://127.0.0.1:9/"
[people.workshop-lead]
routes = ["push"]
[people.duty-warden]
routes = ["push"]
told = ["urgent", "high"]
[people.caretaker]
routes = ["push"]
told = ["urgent"]
"""


@pytest.fixture
def plan(written: Callable[[str], Path]) -> Callable[[str], RoutingPlan]:
    """The plan that a file with these people and this text says."""
    return lambda text: plan_of(load(written(PEOPLE + text)))


def test_people_alone_are_told_in_the_usual_order(plan: Callable[[str], RoutingPlan]) -> None:
    found = plan("")
    assert [(person.name, person.priorities, person.outside) for person in found.people] == [
        ("workshop-lead", frozenset(Priority), False),
        ("duty-warden", {URGENT, HIGH}, False),
        ("caretaker", {URGENT}, False),
    ]
    assert found == usual(found.people)
    assert len(found.ladders[HIGH].rungs) == 3
    assert len(found.ladders[LOW].rungs) == 1, "only the lead takes low ones"
    assert problems(found) == ()


def test_without_people_there_is_a_plan_that_tells_nobody() -> None:
    assert problems(plan_of(Settings())) == ()


def test_steps_are_read_in_words(plan: Callable[[str], RoutingPlan]) -> None:
    found = plan(
        """
[routing]
outside = ["caretaker"]
[routing.high]
first = "duty"
then = ["duty-warden after 8 min", "next after 1 h 30 min,loud", "everybody  after 7200 s , loud"]
outside = "ladder"
[routing.urgent]
first = "everybody, loud"
then = []
[routing.low]
lessons = "at once"
outside = "ladder"
"""
    )
    assert found.ladders[HIGH] == Ladder(
        (Rung("duty"), Rung("duty-warden", 480), Rung("next", 5400, loud=True), Rung("everybody", 7200, loud=True))
    )
    assert found.ladders[URGENT] == Ladder((Rung("everybody", loud=True),), outside=Outside.NAMED)
    assert found.ladders[LOW] == Ladder((Rung("duty"),), Lessons.AT_ONCE, Outside.LADDER)
    assert [person.name for person in found.people if person.outside] == ["caretaker"]


def test_the_commented_example_shows_the_usual_plan(plan: Callable[[str], RoutingPlan]) -> None:
    text = (Path(__file__).parents[2] / "config" / "emberward.toml").read_text("utf-8")
    part = re.search(r"^#\[routing\]\n(.*\n)*?(?=\n)", text, re.MULTILINE)
    assert part is not None
    shown = "\n".join(line.removeprefix("#") for line in part[0].splitlines())
    named = plan(shown)
    assert [person.name for person in named.people if person.outside] == ["caretaker"]
    told = Routing.model_validate(tomllib.loads(shown)["routing"])
    for priority in Priority:
        steps = getattr(told, priority)
        ladder = usual(tuple([person._replace(priorities=frozenset(Priority)) for person in named.people])).ladders[
            priority
        ]
        assert (steps.first, *steps.then) == ladder.rungs
        assert (steps.lessons, steps.outside) == (ladder.lessons, ladder.outside)
        assert set(type(steps).model_fields) == steps.model_fields_set, "every setting is named"


# what is written, the place that must be named, words that must be in the sentence
MISTAKES = {
    "no such setting": ('[routing.high]\nfrist = "duty"\n', "routing.high.frist", "Did you mean first?"),
    "no such priority": ('[routing.hihg]\nfirst = "duty"\n', "routing.hihg", "Did you mean high?"),
    "a first step with a time": ('[routing.high]\nfirst = "duty after 5 min"\n', "routing.high.first", "at once"),
    "a first step that is no text": ("[routing.high]\nfirst = 3\n", "routing.high.first", "is no first step"),
    "a later step without a time": ('[routing.high]\nthen = ["duty-warden"]\n', "routing.high.then.0", "after 10 min"),
    "a later step at no time": (
        '[routing.high]\nthen = ["duty-warden after a while"]\n', "routing.high.then.0", "its time cannot be read",
    ),
    "a later step that is no text": ("[routing.high]\nthen = [5]\n", "routing.high.then.0", "is no further step"),
    "steps that are no list": ('[routing.high]\nthen = "duty-warden after 5 min"\n', "routing.high.then", "is no list"),
    "two names in one step": ('[routing.high]\nfirst = "workshop lead"\n', "routing.high.first", "is no first step"),
    "an unknown word for outside": ('[routing.high]\noutside = "never"\n', "routing.high.outside", "ladder, named, wait"),
    "an unknown word for lessons": ('[routing.low]\nlessons = "later"\n', "routing.low.lessons", "at once, wait"),
    "nobody of that name": (
        '[routing.high]\nfirst = "headmaster"\n', "routing.high", "nobody called headmaster. Write one of: duty, next,",
    ),
    "nobody of that name to call": ('[routing]\noutside = ["caretakre"]\n', "routing.outside", "Did you mean caretaker?"),
    "somebody who is not told": (
        '[routing.high]\nfirst = "caretaker"\n', "routing.high", "caretaker is not told high alarms. Add high to told",
    ),
    "steps out of order": (
        '[routing.urgent]\nthen = ["next after 5 min", "everybody after 4 min"]\n', "routing.urgent", "does not come later",
    ),
    "an end that forgets the others": ('[routing.urgent]\nthen = ["next after 2 min"]\n', "routing.urgent", "everybody after"),
    "an urgent one that waits": ('[routing.urgent]\noutside = "wait"\n', "routing.urgent.outside", "only low alarms may wait"),
    "a high one that waits": ('[routing.high]\nlessons = "wait"\n', "routing.high.lessons", "only low alarms may wait"),
    "a person with a name that has a meaning": (
        '[people.next]\nroutes = ["push"]\n', "people", "next has a meaning of its own",
    ),
    "calls to somebody who is not told": (
        '[routing]\noutside = ["caretaker"]\n[routing.high]\noutside = "named"\n', "routing.high.outside", "none of those",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_told_with_its_place_and_its_remedy(mistakes: Callable[[str], list[str]], name: str) -> None:
    text, place, words = MISTAKES[name]
    (told,) = mistakes(PEOPLE + text)
    assert told.partition(": ")[0] == place
    assert words in told


def test_a_mistake_in_a_person_is_told_once(mistakes: Callable[[str], list[str]]) -> None:
    """The ladder that names them is not called wrong as well."""
    (told,) = mistakes(
        PEOPLE.replace('told = ["urgent", "high"]', 'tld = ["high"]') + '[routing.high]\nfirst = "duty-warden"\n'
    )
    assert told.startswith("people.duty-warden.tld")


def test_every_mistake_is_told_at_once(mistakes: Callable[[str], list[str]]) -> None:
    assert (
        len(mistakes(PEOPLE + '[routing]\noutside = ["a", "b"]\n[routing.high]\nfirst = "c"\nlessons = "wait"\n')) == 4
    )
