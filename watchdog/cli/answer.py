"""`acknowledge`, `shelve`, `unshelve`, `expect`, `allow`, `repair`, `forget`: what a person says to the running service."""

import argparse
from typing import Any

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, ask_service, complain, places_of, reference, say, span
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.settings.places import Kept
from watchdog.settings.quantities import seconds


def run(asked: argparse.Namespace) -> int:
    """Carry it to the service and say what it did."""
    try:
        places = places_of(asked)
        return _COMMANDS[asked.command](asked, places)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except (ValueError, RecordUnusable) as refused:
        complain(str(refused))
        return FOUND_WRONG


def _acknowledge(asked: argparse.Namespace, places: Kept) -> int:
    changed = 0
    for alarm in _alarms_of(asked.id, places):
        for done in _ask(places, "acknowledge", alarm=alarm, by=asked.by)["done"]:
            changed += bool(done["changed"])
            say(f"{done['id']}: {'acknowledged' if done['changed'] else 'does not stand, or was acknowledged already'}")
    return DONE if changed else FOUND_WRONG


def _alarms_of(wanted: str, places: Kept) -> list[str]:
    """`wanted` as machine/alarm references: an incident's number stands for its alarms that have not ended."""
    number = reference(wanted)
    if isinstance(number, str):
        return [wanted]
    with Reader.read(places.record) as record:
        incident = record.incident(number)
    if incident is None:
        raise ValueError(f"there is no incident {wanted}. `emberward incidents` lists them.")
    open_alarms = [
        f"{incident.row.machine}/{alarm.alarm}"
        for alarm in incident.alarms
        if alarm.cleared is None and alarm.let_go is None
    ]
    if not open_alarms:
        raise ValueError(f"incident {wanted} is over: nothing of it stands.")
    return open_alarms


def _shelve(asked: argparse.Namespace, places: Kept) -> int:
    duration = _duration(asked.duration)
    answer = _ask(places, "shelve", alarm=asked.alarm, by=asked.by, seconds=duration, reason=asked.reason)
    for done in answer["done"]:
        if done["changed"]:
            say(
                f"{done['id']}: shelved for {span(duration)}; it is still evaluated and logged, and comes back by itself"
            )
        else:
            say(f"{done['id']}: not shelved")
    return DONE if all(done["changed"] for done in answer["done"]) else FOUND_WRONG


def _unshelve(asked: argparse.Namespace, places: Kept) -> int:
    answer = _ask(places, "unshelve", alarm=asked.alarm, by=asked.by)
    for done in answer["done"]:
        say(f"{done['id']}: {'no longer shelved' if done['changed'] else 'was not shelved'}")
    return DONE if all(done["changed"] for done in answer["done"]) else FOUND_WRONG


def _expect(asked: argparse.Namespace, places: Kept) -> int:
    duration = _duration(asked.duration)
    answer = _ask(places, "expect", machine=asked.machine, seconds=duration)
    say(f"{answer['machine']}: the present job is expected to take {span(duration)}")
    return DONE


def _forget(asked: argparse.Namespace, places: Kept) -> int:
    answer = _ask(places, "forget", machine=asked.machine, by=asked.by)
    say(f"{answer['machine']}: what its jobs have taught is forgotten; the incident log stays as it is")
    return DONE


def _allow(asked: argparse.Namespace, places: Kept) -> int:
    answer = _ask(places, "allow", machine=asked.machine, by=asked.by, stays=asked.stays)
    say(f"{answer['machine']}: the present job may run on after the supervised hours; {answer['stays']} looks after it")
    return DONE


def _repair(asked: argparse.Namespace, places: Kept) -> int:
    if asked.end:
        answer = _ask(places, "repair", machine=asked.machine, by=asked.by, end=True)
        say(f"{answer['machine']}: back in service")
        return DONE
    if asked.duration is None:
        raise Stop(USAGE, 'say for how long: emberward repair --for "2 h" --reason "new nozzle", or --end.')
    duration = _duration(asked.duration)
    answer = _ask(places, "repair", machine=asked.machine, by=asked.by, seconds=duration, reason=asked.reason)
    say(f"{answer['machine']}: out of service for {span(duration)}; only urgent alarms are told, all are recorded")
    return DONE


def _duration(written: str) -> float:
    try:
        return float(str(seconds(written)))
    except ValueError as error:
        raise Stop(USAGE, f"{written!r} {error}.") from None


def _ask(places: Kept, verb: str, **facts: Any) -> dict[str, Any]:
    given = {name: value for name, value in facts.items() if value is not None}
    return ask_service(places, {"do": verb, **given})


_COMMANDS = {
    "acknowledge": _acknowledge,
    "shelve": _shelve,
    "unshelve": _unshelve,
    "expect": _expect,
    "forget": _forget,
    "allow": _allow,
    "repair": _repair,
}
