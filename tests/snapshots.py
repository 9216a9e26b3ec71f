"""A machine as the core sees it, for tests that need one and not how it came about."""

from typing import Any

from watchdog.core.snapshot import Execution, Heater, Hotend, Link, Snapshot, Source


def plain(**changes: Any) -> Snapshot:
    """At 1,000 s: linked, ready, cold, heard a second ago, without a job; with `changes`."""
    known: dict[str, Any] = {
        "at": 1000.0,
        "stamp": 1000.0,
        "source": Source.SERIAL,
        "link": Link.AVAILABLE,
        "link_since": 0.0,
        "execution": Execution.READY,
        "execution_since": 0.0,
        "hotend": Hotend.COLD,
        "sighted_since": 0.0,
        "melts_at": 150.0,
        "nozzle": Heater(now=24.0, target=0.0),
        "bed": Heater(now=23.0, target=0.0),
        "job": None,
        "active": False,
        "heating_up": False,
        "heard": 999.0,
        "owed_since": None,
        "unanswered": 0,
        "rhythm": 2.0,
        "blocking_since": None,
        "waits_for_person": False,
        "waits_since": None,
        "wait_planned": False,
        "flow_at": None,
        "flowed": 0.0,
        "fed_in_place": 0.0,
        "restarted_at": None,
        "reset_cause": None,
        "restart_broke": False,
        "faults": (),
        "resends": 0,
        "lines_sent": 0,
        "byte_fell_at": None,
        "card_gone_at": None,
        "heat_when_lost": False,
        "chosen_at": None,
    }
    return Snapshot(**known | changes)
