"""What `status` tells of people and hours: who is there, who would be told, and how often they were spoken to today."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from watchdog.core.effects import Priority
from watchdog.core.moment import Moment
from watchdog.core.routing import RoutingPlan, explain
from watchdog.core.routing.burden import load_of
from watchdog.core.timetable import Timetable, presence
from watchdog.core.traffic import stamp_text
from watchdog.record.term_rows import MessageRow


def hours(timetable: Timetable | None, at: Moment) -> dict[str, Any] | None:
    """Who is there just now; None where no hours are set."""
    if timetable is None:
        return None
    now = presence(timetable, at.stamp)
    return {
        "supervised": now.supervised,
        "until": _text(now.until),
        "next": _text(now.next),
        "lesson_until": _text(now.lesson_until) if now.lesson else None,
        "holiday": now.holiday,
        "on_duty": list(now.on_duty),
        "trouble": now.trouble,
    }


def ladders(plan: RoutingPlan, timetable: Timetable | None, at: Moment) -> dict[str, list[dict[str, Any]]]:
    """Who would be told if an alarm were raised now, by priority."""
    return {
        priority.value: [
            {
                "after_s": round(step.after),
                "people": list(step.people),
                "loud": step.loud,
                "waits_until": _text(step.not_before),
            }
            for step in explain(plan, timetable, priority, at)
        ]
        for priority in Priority
    }


def burden(messages: Iterable[MessageRow], plan: RoutingPlan, timetable: Timetable, at: Moment) -> dict[str, Any]:
    """How often each person was spoken to today."""
    told = tuple(messages)
    today = datetime.fromtimestamp(at.stamp, timetable.zone).date()
    found = {}
    for person in plan.people:
        load = load_of(told, timetable, person.name, today)
        found[person.name] = {
            "in_lessons": load.in_lessons,
            "outside_lessons": load.outside,
            "urgent": load.urgent,
            "busiest_hour": load.busiest_hour,
            "beyond_the_budget": load.beyond,
        }
    return found


def _text(stamp: float | None) -> str | None:
    return None if stamp is None else stamp_text(stamp)
