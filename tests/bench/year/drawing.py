"""What goes wrong in a year, drawn from a seed: about 400 jobs on two machines, and what people forget."""

from collections.abc import Mapping
from datetime import timedelta
from random import Random
from typing import NamedTuple
from zoneinfo import ZoneInfo

from tests.bench.year.school import FIRST, WEEK, changes, days, on_holiday, stamp

MACHINES = ("doorway-1", "loft-1")


class Rate(NamedTuple):
    """How often a condition shows in a year of both machines, for how long when nobody acts, and how often it is urgent."""

    a_year: float
    lasts: float
    """s, median, when nobody does anything"""
    lifted: float = 0.0
    """share that the detector calls urgent"""
    outside: float = 0.05
    """share that begins outside the supervised hours"""


RATES: Mapping[str, Rate] = {
    # Failed jobs (1 % of 400), lapses of people and false alarms: the fault bench's school year (DEVELOPERS.md), rounded up.
    # Suspended hosts and an impaired watch, how long each lasts and the share at night: assumed, no source.
    "heat-runaway": Rate(1.5, 1800, outside=0.3),
    "temperature-implausible": Rate(1.0, 1200, outside=0.2),
    "controller-halted": Rate(0.5, 7200),
    "extruding-in-place": Rate(0.5, 1200),
    "silent-hot": Rate(1.0, 900, outside=0.3),
    "link-lost": Rate(1.0, 1200, outside=0.2),
    "controller-restarted": Rate(0.5, 1800),
    "card-fault": Rate(1.0, 1200, lifted=0.3),
    "filament-out": Rate(0.5, 1800),
    "waiting-for-person": Rate(3.0, 1800),
    "host-suspended": Rate(1.0, 1800),
    "heating-stalled": Rate(1.0, 900),
    "heat-not-holding": Rate(2.0, 900),
    "job-stalled": Rate(2.0, 2400, outside=0.2),
    "job-not-started": Rate(2.0, 1200),
    "hot-idle": Rate(6.0, 2400, outside=0.1),
    "watch-impaired": Rate(2.0, 3600, outside=0.3),
    # What asks for nothing at once comes oftener: a machine switched off in passing, a job that is late, a bad cable.
    "silent": Rate(40.0, 18 * 3600, outside=0.3),
    "job-late": Rate(12.0, 2400),
    "link-errors": Rate(2.0, 7200),
}


class Incident(NamedTuple):
    """One condition at one machine, from outside."""

    at: float
    """stamp, whole s"""
    machine: str
    alarm: str
    lasts: float
    """s until it goes by itself"""
    lifted: bool
    deaf: bool
    """nobody is to be had for it, however often it is said"""
    mends: float
    """s from an acknowledgement until the condition is gone"""


def incidents(zone: ZoneInfo, random: Random, times: float) -> list[Incident]:
    """A year's, with every rate taken `times`; three floods, one a term, in which both machines come apart within minutes; and
    urgent ones in each night in which the clocks change, and before and after the next opening."""
    opened = [day for day in days() if WEEK.days[day.weekday()] and not on_holiday(day)]
    found = []
    for alarm, rate in RATES.items():
        for _ in range(_poisson(random, rate.a_year * times)):
            if random.random() < rate.outside:
                at = stamp(random.choice(days()), random.uniform(0, 1440), zone)
            else:
                day = random.choice(opened)
                at = stamp(day, random.uniform(*WEEK.days[day.weekday()][0]), zone)
            found.append(_incident(random, at, alarm, random.random() < rate.lifted, random.choice(MACHINES)))
    for _ in range(3):
        day = random.choice(opened)
        begin = stamp(day, random.uniform(*WEEK.days[day.weekday()][0]), zone)
        found += [
            _incident(random, begin + random.uniform(0, 300), alarm, False, machine)
            for machine in MACHINES
            for alarm in random.sample(sorted(RATES), 9)
        ]
    for day in changes(zone):
        after = next(later for later in opened if later > day)
        for on, minutes in ((day, 90), (day, 200), (after, WEEK.days[after.weekday()][0].start - 5)):
            found.append(_incident(random, stamp(on, minutes, zone), "heat-runaway", False, MACHINES[0]))
        at = stamp(after, WEEK.days[after.weekday()][0].start + 5, zone)
        found.append(_incident(random, at, "silent-hot", False, MACHINES[1]))
    end = stamp(FIRST + timedelta(days=364), 0, zone)
    return sorted(one for one in found if one.at < end)


def _incident(random: Random, at: float, alarm: str, lifted: bool, machine: str) -> Incident:
    lasts = min(86400.0, random.lognormvariate(0.0, 0.8) * RATES[alarm].lasts)
    return Incident(
        float(round(at)), machine, alarm, round(lasts) + 60.0, lifted, random.random() < 0.08, random.uniform(60, 900)
    )


def _poisson(random: Random, mean: float) -> int:
    """Counts the arrivals of one unit of time at rate `mean`."""
    count, left = 0, random.expovariate(mean)
    while left < 1:
        count, left = count + 1, left + random.expovariate(mean)
    return count
