"""Every figure of a term review, each with its count and its interval.

A pure function of rows, so that an exported record gives exactly the same.
"""

from typing import NamedTuple

from watchdog.review.parts import (
    alarms,
    changes,
    durations,
    heat,
    jobs,
    losses,
    people,
    reliability,
    sheets,
)
from watchdog.review.rows import House, Rows, machines_of


class Review(NamedTuple):
    """The figures of one term."""

    since: float
    until: float
    """not included"""
    zone: str
    machines: tuple[str, ...]
    jobs: jobs.Jobs
    losses: losses.Losses
    heat: heat.Heat
    reliability: tuple[reliability.Reliability, ...]
    """of each machine that had a job in the term"""
    durations: durations.Durations
    sheets: sheets.Sheets
    alarms: alarms.Alarms
    responses: tuple[people.Response, ...]
    messages: people.Messages
    changes: tuple[changes.Change, ...]


def figures(rows: Rows, since: float, until: float, house: House) -> Review:
    """Work out the review of the time from `since` to `until`, stamps. A job belongs to the term in which it began."""
    if not since < until:
        raise ValueError("a term begins before it ends")
    of_term = tuple(job for job in rows.jobs if since <= job.started < until)
    machines = machines_of(house, rows.jobs, rows.occurrences, rows.blind, rows.sheets)
    counted = jobs.jobs(of_term, rows.blind, machines, since, until)
    lost = losses.losses(of_term, rows.sheets, since, until, house)
    took = durations.durations(of_term)
    raised = alarms.alarms(rows.occurrences, since, until, house)
    answered = people.responses(rows.occurrences)
    return Review(
        since,
        until,
        house.zone.key,
        machines,
        counted,
        lost,
        heat.heat(rows.jobs, rows.occurrences, rows.hot, house),
        tuple(
            reliability.reliability(machine, own, house)
            for machine in machines
            if (own := tuple(job for job in of_term if job.machine == machine))
        ),
        took,
        sheets.sheets(rows.sheets, rows.jobs),
        raised,
        answered,
        people.messages(rows.messages, since, until),
        changes.changes(counted, lost, took, raised, answered),
    )
