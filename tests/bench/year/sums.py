"""What the year shows: promises that were broken, and totals by person.

Judged from outside, by the timetable, the orders and the messages, without asking the routing again.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from tests.bench.year.running import Life, Message, Year
from tests.bench.year.school import CARETAKER, LEAD, PLAN, WARDEN, WEEK, days, on_holiday
from watchdog.core.effects import Priority
from watchdog.core.routing.pace import Budget, Load, load, within

MOST_AN_HOUR = 6
APART = 60.0  # s
LONGEST_WAIT = 27 * 60.0  # s that the pace holds a message back at the most
SCHOOL_DAYS = [day for day in days() if WEEK.days[day.weekday()] and not on_holiday(day)]
URGENT, HIGH, LOW = Priority.URGENT, Priority.HIGH, Priority.LOW


def broken(year: Year) -> list[str]:
    """Every promise that was not kept, one sentence each; empty when all were."""
    return [*_at_once(year), *_never_longer(year), *_pace(year), *_budget(year)]


def _say(life: Life) -> str:
    return f"{life.machine}/{life.alarm} at {life.raised:.0f}"


def _at_once(year: Year) -> Iterator[str]:
    """Every urgent alarm reaches a person on duty or, outside the hours, the named person; every high one somebody."""
    for life in year.lives:
        if life.priority is LOW or (life.priority is HIGH and not life.first):
            continue  # a high one that keeps returning is told once an hour: the alarms decide that
        if any(order.not_before is not None for order in life.first):
            yield f"{_say(life)}: it had to wait"
        if life.priority is HIGH:
            continue
        people = {order.person for order in life.first}
        here = life.here
        unsure = here.trouble is not None
        on_duty = here.on_duty[0] if here.on_duty else LEAD
        if (here.supervised or unsure) and on_duty not in people:
            yield f"{_say(life)}: {on_duty} is on duty and was not told at once"
        if (not here.supervised or unsure) and CARETAKER not in people:
            yield f"{_say(life)}: {CARETAKER} takes the calls and was not told at once"


def _never_longer(year: Year) -> Iterator[str]:
    """While nobody took it on: the second person by the second step's time, and everybody by the last one's."""
    for life in year.lives:
        if life.followed or not life.told or life.priority is LOW:
            continue
        ladder = PLAN.ladders[life.priority]
        begin = min(life.told.values())
        stood = (life.ended or float("inf")) - begin
        takers = {person.name for person in PLAN.people if life.priority in person.priorities}
        told_by = {
            rung.after: {who for who, at in life.told.items() if at - begin <= rung.after} for rung in ladder.rungs
        }
        if stood > ladder.rungs[1].after and WARDEN not in told_by[ladder.rungs[1].after]:
            yield f"{_say(life)}: {WARDEN} was not told after {ladder.rungs[1].after:.0f} s"
        if stood > ladder.rungs[2].after and told_by[ladder.rungs[2].after] != takers:
            yield f"{_say(life)}: not everybody was told after {ladder.rungs[2].after:.0f} s"


def _pace(year: Year) -> Iterator[str]:
    for person in names():
        calm = [message for message in year.messages if message.person == person and not message.urgent]
        for before, after in pairwise(calm):
            if after.at - before.at < APART - 1e-6:
                yield f"{person}: two messages within {APART:.0f} s at {after.at:.0f}"
        for first, seventh in zip(calm, calm[MOST_AN_HOUR:], strict=False):
            if seventh.at - first.at < 3600 - 1e-6:
                yield f"{person}: more than {MOST_AN_HOUR} messages in the hour before {seventh.at:.0f}"
    for message, wait in waits(year):
        if wait > (0.0 if message.urgent else LONGEST_WAIT) + 1e-6:
            yield f"{message.person}: a message at {message.at:.0f} had been held back for {wait:.0f} s"


def _budget(year: Year) -> Iterator[str]:
    for person in names():
        found = in_lessons(year, person)
        if not within(Budget(), found):
            yield f"{person}: inside lessons {found.median:.0f} messages on half the days, {found.of_95_in_100:.0f} on 1 in 20"


def waits(year: Year) -> Iterator[tuple[Message, float]]:
    """Each message, and the s for which the pace held it back: that of its most urgent parcels."""
    for message in year.messages:
        pressing = (
            [parcel for parcel in message.parcels if parcel.order.tell.priority is URGENT] if message.urgent else []
        )
        from_when = [max(parcel.at, parcel.order.not_before or 0.0) for parcel in pressing or message.parcels]
        yield message, message.at - (max(from_when) if pressing else min(from_when))


def names() -> tuple[str, ...]:
    """Everybody who is told."""
    return tuple(person.name for person in PLAN.people)


def in_lessons(year: Year, person: str) -> Load:
    """Messages to `person` inside lessons, by school day."""
    counted = Counter(_day(year, message) for message in year.messages if message.person == person and message.lesson)
    return load([counted[day] for day in SCHOOL_DAYS])


def _day(year: Year, message: Message) -> date:
    return datetime.fromtimestamp(message.at, ZoneInfo(year.zone)).date()


class Row(NamedTuple):
    """What one person got in a year, the mean of several."""

    zone: str
    person: str
    messages: float
    urgent: float
    outside: float
    lessons: Load
    """of all years' school days together"""
    most_an_hour: int
    """not urgent"""
    held_back: float
    """s: the longest by the pace"""


def rows(years: Sequence[Year]) -> list[Row]:
    """Totals by zone and person."""
    found = []
    for zone in dict.fromkeys(year.zone for year in years):
        here = [year for year in years if year.zone == zone]
        for person in names():
            mine = [message for year in here for message in year.messages if message.person == person]
            daily = []
            for year in here:
                counted = Counter(_day(year, m) for m in year.messages if m.person == person and m.lesson)
                daily += [counted[day] for day in SCHOOL_DAYS]
            held = [wait for year in here for message, wait in waits(year) if message.person == person]
            found.append(
                Row(
                    zone,
                    person,
                    len(mine) / len(here),
                    sum(message.urgent for message in mine) / len(here),
                    sum(not message.supervised for message in mine) / len(here),
                    load(daily),
                    max((_most_an_hour(year, person) for year in here), default=0),
                    max(held, default=0.0),
                )
            )
    return found


def _most_an_hour(year: Year, person: str) -> int:
    times = [message.at for message in year.messages if message.person == person and not message.urgent]
    return max((sum(at <= other < at + 3600 - 1e-6 for other in times) for at in times), default=0)


def table(years: Sequence[Year]) -> str:
    """The totals as a Markdown table."""
    columns = [
        "zone", "person", "messages a year", "urgent", "outside the hours", "in lessons, a day: median / 95 % / most",
        "most in an hour", "held back, min",
    ]  # fmt: skip
    lines = [f"| {' | '.join(columns)} |", f"|{' --- |' * len(columns)}"]
    for row in rows(years):
        lesson = " / ".join(f"{part:.0f}" for part in row.lessons)
        cells = (
            row.zone, row.person, f"{row.messages:.0f}", f"{row.urgent:.0f}", f"{row.outside:.0f}", lesson,
            f"{row.most_an_hour}", f"{row.held_back / 60:.0f}",
        )  # fmt: skip
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def summary(years: Sequence[Year]) -> str:
    """What was simulated, in two sentences."""
    lives = [life for year in years for life in year.lives]
    by = Counter(life.priority for life in lives)
    outside = sum(not life.here.supervised for life in lives)
    count = len(years)
    told = sum(len(message.parcels) for year in years for message in year.messages)
    return (
        f"{count} school years: {len(lives) / count:.0f} alarms a year ({by[URGENT] / count:.0f} urgent,"
        f" {by[HIGH] / count:.0f} high, {by[LOW] / count:.0f} low), {outside / count:.0f} of them outside the hours."
        f" {told / count:.0f} orders became {sum(len(year.messages) for year in years) / count:.0f} messages a year;"
        f" {sum(year.withdrawn for year in years) / count:.0f} were taken back, having become idle in a lesson or a night."
    )
