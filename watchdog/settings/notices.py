"""What people are told that is no alarm, and the one protective action: off unless asked for."""

import re
from typing import Annotated

from pydantic import BeforeValidator, Field

from watchdog.core import cooling
from watchdog.core.notices.notice import CLOSING, DIGEST, FIRST_LAYER, JOB_FINISHED, WAS_BLIND, WATCH_ON
from watchdog.settings.base import Model
from watchdog.settings.quantities import Seconds

_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)\Z")


def _minute(written: object) -> object:
    if isinstance(written, int) and not isinstance(written, bool):
        return written
    found = _TIME.match(written.strip()) if isinstance(written, str) else None
    if found is None:
        raise ValueError('is no time of day. Write it as "20:30"')
    return int(found[1]) * 60 + int(found[2])


class Notices(Model):
    """What is told once and never insisted on. It goes to whoever is on duty, else to the first in line."""

    first_layer: bool = False
    """when a job's first layer is planned to be done: have a look (needs `jobs`)"""
    job_finished: bool = False
    """when a job was completed"""
    watch_on: bool = False
    """at the start of the supervised day: that the watch is on, and what it sees (needs hours)"""
    closing: bool = False
    """ten minutes before the supervised day ends: all cold, or what is not (needs hours)"""
    was_blind: bool = True
    """after a minute or more without sight: from when to when, and what the machine did meanwhile as far as known"""
    digest: Annotated[int, BeforeValidator(_minute)] | None = None
    """time of day at which the last day is summed up and what is due is named; never when left out"""


class Cooling(Model):
    """Cool a nozzle that stands hot with nobody answering: M104 S0, once, never in a job, and told."""

    enabled: bool = False
    """whether it may be done at all; only ever by the machine's own serial port"""
    unanswered: Seconds = Field(default=600.0, ge=120, le=7200)
    """s that `hot-idle` has stood without an answer"""
    idle_for: Seconds = Field(default=900.0, ge=300, le=14400)
    """s since the last job, the last move of filament, and since somebody set the heat"""
    bed: bool = False
    """switch the bed off as well (M140 S0)"""


def wanted(told: Notices) -> frozenset[str]:
    """Names of the notices that somebody wants."""
    by_name = {
        FIRST_LAYER: told.first_layer,
        JOB_FINISHED: told.job_finished,
        WATCH_ON: told.watch_on,
        CLOSING: told.closing,
        WAS_BLIND: told.was_blind,
        DIGEST: told.digest is not None,
    }
    return frozenset(name for name, asked in by_name.items() if asked)


def cooling_of(told: Cooling) -> cooling.Limits:
    """When the protective action may be taken."""
    return cooling.Limits(told.enabled, told.unanswered, told.idle_for, told.bed)
