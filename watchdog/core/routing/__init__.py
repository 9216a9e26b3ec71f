"""Whom a message goes to, when and how loud: the right person first, then the next, until somebody answers."""

from watchdog.core.routing.engine import advance
from watchdog.core.routing.explain import Step, explain
from watchdog.core.routing.faults import Fault, problems
from watchdog.core.routing.memory import Memory
from watchdog.core.routing.plan import (
    Ladder,
    Lessons,
    Outside,
    Recipient,
    RoutingPlan,
    Rung,
    takers,
    usual,
    usual_ladder,
)

__all__ = [
    "Fault",
    "Ladder",
    "Lessons",
    "Memory",
    "Outside",
    "Recipient",
    "RoutingPlan",
    "Rung",
    "Step",
    "advance",
    "explain",
    "problems",
    "takers",
    "usual",
    "usual_ladder",
]
