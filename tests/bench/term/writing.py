"""The term's entries into a real record, and the messages out of it as if a server had taken each."""

import sqlite3
from collections.abc import Iterable
from pathlib import Path
from random import Random
from typing import Any

from tests.bench.term import house
from tests.bench.term.entries import Entered, Entry, when
from watchdog.record.labels import Words
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record
from watchdog.record.term_rows import Result, Subject, Usefulness

_ROUTES = {
    house.LEAD: "lead-phone",
    house.WARDEN: "desk-mail",
    house.TUTOR: "tutor-phone",
    house.CARETAKER: "caretaker-sms",
}
_LOOK = 300.0
"""s of the term between two looks at what had to wait"""


class Quick(sqlite3.Connection):
    """Does not wait for the disk: nothing is told of it, and a term that was cut off is made anew."""

    def execute(self, sql: str, parameters: Any = (), /) -> sqlite3.Cursor:
        """As ever, but for one pragma."""
        return super().execute("PRAGMA synchronous = OFF" if sql == "PRAGMA synchronous = FULL" else sql, parameters)


def put(place: Path, entries: Iterable[Entry], seed: int) -> None:
    """Commit each entry at its time and deliver what is due."""
    random = Random(f"delivery {seed}")
    record = Record.open(place, house.first_moment(), connecting=Quick)
    looked = 0.0
    for entry in entries:
        now = when(entry)
        if isinstance(entry, Entered):
            _enter(record, entry)
            continue
        if now - looked >= _LOOK:
            looked = now
            _deliver(record, now, random)
        record.commit(entry)
        if entry.orders:
            _deliver(record, now, random)
    record.close()


def _deliver(record: Record, now: float, random: Random) -> None:
    parcels = record.due(now)
    attempts = [
        Attempt(parcel.id, _ROUTES[parcel.person], now + random.uniform(0.5, 4.0), Outcome.DELIVERED, "taken")
        for parcel in parcels
    ]
    if attempts:
        record.log_attempts(attempts, {}, [parcel.id for parcel in parcels])


def _enter(record: Record, entry: Entered) -> None:
    machine, by, at, what = entry.machine, entry.by, entry.at, entry.what
    if entry.verb == "job":
        _label_job(record, entry)
    elif entry.verb == "alarm":
        subject = record.alarm_id(machine, what["alarm"], what["occurrence"])
        assert subject is not None, entry
        words = Words(usefulness=Usefulness(what["usefulness"]))
        record.label(Subject.ALARM, subject, words, at=at, by=by, how="command")
    elif entry.verb == "done":
        record.done(machine, what["item"], at=at, by=by, note=what["note"])
    elif entry.verb == "sheet":
        record.new_sheet(machine, at=at, by=by, why=what["why"])
        record.done(machine, "build-surface", at=at, by=by, note="")  # as the command does
    elif entry.verb == "spool":
        more = {name: value for name, value in what.items() if name != "measured"}
        spool = record.load_spool(machine, at=at, by=by, **more)
        record.measure_filament(machine, at=at, by=by, mm=what["measured"], spool=spool)
    elif entry.verb == "weigh":
        spools = record.spools(machine, loaded_only=True)
        if spools:
            record.weigh_spool(spools[-1].id, at=at, by=by, weight=what["net"] + (spools[-1].empty or 0.0))
    else:
        raise ValueError(f"{entry.verb}: no such entry")


def _label_job(record: Record, entry: Entered) -> None:
    """People know a job by when it was started."""
    what, started = entry.what, entry.what["started"]
    near = [job for job in record.jobs(started - 60.0, entry.at, entry.machine) if abs(job.started - started) < 60.0]
    if not near:
        return  # the watch has not seen it, which the judgement counts
    words = Words(Result(what["outcome"]), what.get("cause"), what.get("origin"), what.get("remedy"))
    record.label(Subject.JOB, near[0].id, words, at=entry.at, by=entry.by, how="command")
