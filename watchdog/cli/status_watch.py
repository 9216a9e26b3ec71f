"""Of `status`, the lines on the watch itself: its people, the broker, the computer that it runs on."""

from datetime import datetime
from typing import Any

from watchdog.cli.common import span


def network(mqtt: dict[str, Any] | None) -> list[str]:
    """How it stands with the broker."""
    if mqtt is None:
        return []
    there = "connected" if mqtt["connected"] else "not connected"
    waits = f", {mqtt['waiting']} messages wait" if mqtt["waiting"] else ""
    lost = sum(mqtt["dropped"].values())
    return [f"broker     {mqtt['broker']}: {there}{waits}{f', {lost} let go' if lost else ''}"]


def computer(vitals: dict[str, Any] | None) -> list[str]:
    """How the watching computer is; what it does not tell is left out."""
    if vitals is None:
        return []
    told = []
    if vitals["disk_free"] is not None:
        told.append(f"{vitals['disk_free'] / 1e9:.1f} GB of disk free")
    if vitals["memory_free"] is not None:
        told.append(f"{vitals['memory_free'] / 1e6:.0f} MB of memory free")
    if vitals["load"] is not None:
        told.append(f"load {vitals['load']:.1f} a processor")
    clock = {True: "clock kept right", False: "nothing keeps the clock right", None: "clock: cannot tell"}
    told.append(clock[vitals["clock_kept"]])
    if vitals["undervoltage"]:
        told.append("supply voltage too low")
    if vitals["restart_wanted"]:
        told.append("an update waits for a restart")
    return [f"computer   {', '.join(told)}"]


def people(watch: dict[str, Any], at: datetime) -> list[str]:
    """Who is there, who would be told first, and how much each was told today. `at`: now, in the zone that people read."""
    shown = []
    hours = watch.get("hours")
    if hours is not None:
        if hours["trouble"]:
            shown.append(f"hours      counted as supervised: {hours['trouble']}")
        elif hours["supervised"]:
            shown.append(f"hours      supervised until {_day_and_time(hours['until'], at)}")
        else:
            shown.append(f"hours      nobody is there until {_day_and_time(hours['next'], at)}")
        if hours["holiday"]:
            shown.append("           a holiday: any heat is urgent")
        if hours["lesson_until"] and hours["supervised"]:
            shown.append(
                f"           a lesson until {_day_and_time(hours['lesson_until'], at)}: low alarms wait for its end"
            )
        if hours["on_duty"]:
            shown.append(f"on duty    {', '.join(hours['on_duty'])}")
    for priority, steps in (watch.get("ladders") or {}).items():
        told = "; ".join(_step(step, at) for step in steps if step["people"]) or "nobody"
        shown.append(f"{priority:<10} {told}")
    for person, load in (watch.get("burden") or {}).items():
        count = load["in_lessons"] + load["outside_lessons"]
        if count:
            lessons = f", {load['in_lessons']} of them in lessons" if load["in_lessons"] else ""
            shown.append(f"today      {person}: {count} {'message' if count == 1 else 'messages'}{lessons}")
    if watch.get("not_kept_awake"):
        shown.append(f"remark     {watch['not_kept_awake']}")
    calendars = watch.get("calendars")
    shown += [f"remark     {remark}" for remark in (calendars or {}).get("remarks", ())]
    return shown


def _step(step: dict[str, Any], at: datetime) -> str:
    after = f"after {span(step['after_s'])} " if step["after_s"] else ""
    loud = ", loud" if step["loud"] else ""
    waits = f" (at {_day_and_time(step['waits_until'], at)})" if step["waits_until"] else ""
    return f"{after}{', '.join(step['people'])}{loud}{waits}"


def _day_and_time(stamp: str | None, at: datetime) -> str:
    """A stamp of the answer as local time, with its date where the name of the day could mean another; words for None."""
    if stamp is None:
        return "a time that is not known"
    then = datetime.fromisoformat(stamp).astimezone(at.tzinfo)
    far = abs((then.date() - at.date()).days) > 6
    return f"{then:%a} {then.day} {then:%b} {then:%H:%M}" if far else f"{then:%a %H:%M}"
