"""The service's own log: plain lines on a terminal, JSON for the journal."""

import logging
import os
import sys
from collections.abc import Sequence
from typing import Any

import structlog

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, Priority, StateChanged, Tell


def set_up(*, quiet: bool = False) -> None:
    """Once, at the start of the process. `quiet`: errors alone."""
    human = sys.stderr.isatty() and "JOURNAL_STREAM" not in os.environ
    renderer: Any = structlog.dev.ConsoleRenderer(pad_event_to=0) if human else structlog.processors.JSONRenderer()
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="%H:%M:%S" if human else "iso", utc=not human),
            structlog.processors.format_exc_info,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.ERROR if quiet else logging.INFO),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
        cache_logger_on_first_use=True,
    )


def narrate(machine: str, effects: Sequence[Effect]) -> None:
    """Tell the log what happened to `machine`. File names stay out of it: they can hold pupils' names."""
    log = structlog.get_logger()
    for effect in effects:
        match effect:
            case AlarmChanged():
                loud = effect.transition.value == "raised" and effect.priority is not Priority.LOW
                (log.warning if loud else log.info)(
                    f"alarm {effect.transition.value}",
                    machine=machine,
                    alarm=effect.alarm,
                    priority=effect.priority.value,
                    **({"by": effect.by} if effect.by else {}),
                    evidence=dict(effect.evidence),
                )
            case StateChanged():
                log.info("state", machine=machine, axis=effect.axis, before=effect.before, after=effect.after)
            case JobChanged():
                why = {"why": effect.why} if effect.why else {}
                log.info(f"job {effect.event}", machine=machine, job=effect.number, origin=effect.origin, **why)
            case Noted():
                log.info(f"noted {effect.kind}", machine=machine, **dict(effect.facts))
            case Tell():
                pass  # the transition beside it has been told
