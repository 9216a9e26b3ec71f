"""Alarms, answers and messages in words."""

from watchdog.review.figures import Review
from watchdog.review.parts.people import FEWEST_PEOPLE
from watchdog.review.sections.shape import (
    MOST_ROWS,
    NOTHING,
    Picture,
    Section,
    Table,
    count,
    interval,
    listed,
    middle,
    percent,
    share,
    span,
)

_MOST = 16  # conditions of the table, the commonest


def alarms(review: Review) -> Section:
    """Were they of use, and how many were there."""
    found = review.alarms
    if not found.raised:
        return Section("alarms", "Alarms", ("No alarm was raised.",), ("isa",))
    lines = [
        f"{found.raised} raised, {found.told} told to somebody. Of use by people's word: {share(found.useful)}.",
        f"A day: {found.a_day.mean:.2f} on average over {found.a_day.spans} days, {found.a_day.most} on the fullest. A shift of"
        f" 8 h: {found.a_shift.mean:.2f}, {found.a_shift.most} in the fullest.",
        f"Floods (more than 10 in 10 min): {found.floods}. Standing for more than a day: {found.stale}. Chattering (3 in a"
        f" minute): {listed(found.chattering) or 'none'}.",
    ]
    if len(found.conditions) > _MOST:
        lines.append(f"Not in the table: {count(len(found.conditions) - _MOST, 'rarer alarm')}.")
    priorities = tuple(
        (
            ranked.priority.value,
            str(ranked.raised.counted),
            percent(ranked.raised.share, ranked.raised.of),
            interval(ranked.raised),
            f"{100 * ranked.aim:.0f} %",
        )
        for ranked in found.priorities
    )
    conditions = tuple(
        (
            one.alarm,
            str(one.raised),
            str(one.useful.of),
            percent(one.useful.share, one.useful.of),
            interval(one.useful),
            str(one.nuisance),
            str(one.late),
        )
        for one in found.conditions[:_MOST]
    )
    judged = [one for one in found.conditions if one.useful.of][:MOST_ROWS]
    alt = "Share of use of each alarm with its interval, against a line at 70 %: " + "; ".join(
        f"{one.alarm} {share(one.useful)}" for one in judged
    )
    pictures = (
        (
            Picture(
                "useful",
                f"Share of alarms that were of use, with 95 % interval, n = {sum(one.useful.of for one in judged)}",
                alt + ".",
                "share",
            ),
        )
        if judged
        else ()
    )
    tables = (
        Table(
            f"Alarms by use (n = {found.raised})",
            ("alarm", "raised", "judged", "of use", "interval", "nuisance", "late"),
            conditions,
            "share",
        ),
        Table(
            f"Priorities (n = {found.raised})", ("priority", "raised", "share", "interval", "aim"), priorities, "isa"
        ),
    )
    return Section("alarms", "Alarms", tuple(lines), ("isa", "share"), tables, pictures)


def answers(review: Review) -> Section:
    """How soon, and how many messages."""
    rows = tuple(
        (
            one.priority.value,
            middle(one.told),
            span(one.told.p90),
            middle(one.answered),
            span(one.answered.p90),
            share(one.in_time) if one.in_time.of else NOTHING,
        )
        for one in review.responses
        if one.whole.of or one.told.of
    )
    sent = review.messages
    lines = [
        f"Messages delivered: {sent.sent}, to {count(sent.people, 'person', 'people')}; given up: {sent.given_up}; waiting:"
        f" {sent.waiting}."
    ]
    if sent.each_week is None and sent.people:
        lines.append(f"How they fall on people is not shown: with fewer than {FEWEST_PEOPLE} it would tell them apart.")
    elif sent.each_week is not None and sent.each_week.p90 is not None:
        each = middle(sent.each_week, " messages")
        lines.append(f"A person and week: median {each}; nine of ten stay below {sent.each_week.p90:.0f}.")
    heads = ("priority", "raised to told", "9 of 10", "told to acknowledged", "9 of 10", "in time")
    tables = (Table("Median times, by priority", heads, rows, "ranks"),) if rows else ()
    return Section("answers", "Answers and messages", tuple(lines), ("ranks", "people"), tables)
