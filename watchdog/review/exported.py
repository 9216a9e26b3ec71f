"""The rows of a review from an exported record, so that anybody can work its figures out anew without the record itself.

What the record answers in SQL (the latest word of a label, a sheet's jobs, when somebody was first told) is worked out here a
second time from the plain tables.
"""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from watchdog.core.effects import Priority, TellKind
from watchdog.record import blindness
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import BlindRow, LabelNow, MessageRow, OccurrenceRow, Result, SheetRow, Usefulness
from watchdog.review.rows import HotMinute, House, Rows, machines_of
from watchdog.review.tables import NoExport, table

__all__ = ["NoExport", "exported"]

_NOTHING = LabelNow(*(None,) * 6)
_WORDS = ("outcome", "cause", "origin", "remedy", "note", "usefulness")


def exported(folder: Path, since: float, until: float, house: House) -> Rows:
    """What a review of the time from `since` to `until` (not included) needs. Raises `NoExport`."""
    labels = _labels(table(folder, "label"))
    spans = [
        (row["id"], BlindRow(row["machine"], row["cause"], row["since"], row["until"]))
        for row in table(folder, "blind_span")
    ]
    ordered = tuple(span for _, span in sorted(spans, key=lambda one: (one[1].since, one[0])))
    jobs = _jobs(table(folder, "job"), ordered, labels)
    parcels = list(table(folder, "parcel"))
    occurrences = _occurrences(table(folder, "alarm"), parcels, labels, since, until)
    blind = tuple(span for span in ordered if span.since < until and (span.until is None or span.until > since))
    sheets = _sheets(table(folder, "sheet"), jobs)
    known = machines_of(house, jobs, occurrences, blind, sheets)
    hot = sorted(
        HotMinute(row["machine"], float(row["stamp"]))
        for row in table(folder, "telemetry")
        if row["machine"] in known
        and since <= row["stamp"] < until
        and row["nozzle_high"] is not None
        and row["nozzle_high"] >= house.plastic(row["machine"]).melts_at
    )
    messages = _messages(parcels, table(folder, "attempt"), since, until)
    return Rows(jobs, occurrences, messages, blind, sheets, tuple(hot))


def _labels(rows: Iterable[dict[str, Any]]) -> dict[tuple[str, int], LabelNow]:
    """The latest word on each part of each subject."""
    said: dict[tuple[str, int], dict[str, Any]] = {}
    for row in sorted(rows, key=lambda row: row["id"]):
        if row["subject"] is not None:
            words = said.setdefault((row["kind"], row["subject"]), dict.fromkeys(_WORDS))
            if row["outcome"] not in (None, Result.FAILED.value):  # what did not fail has no cause from before
                words.update(cause=None, origin=None)
            words.update({word: row[word] for word in _WORDS if row[word] is not None})
    return {
        subject: LabelNow(
            None if words["outcome"] is None else Result(words["outcome"]),
            words["cause"],
            words["origin"],
            words["remedy"],
            words["note"],
            None if words["usefulness"] is None else Usefulness(words["usefulness"]),
        )
        for subject, words in said.items()
    }


def _jobs(
    rows: Iterable[dict[str, Any]], blind: tuple[BlindRow, ...], labels: dict[tuple[str, int], LabelNow]
) -> tuple[JobRow, ...]:
    def unseen(row: dict[str, Any]) -> float | None:
        return None if row["ended"] is None else blindness.seconds(blind, row["machine"], row["started"], row["ended"])

    found = (JobRow(**row, blind=unseen(row), label=labels.get(("job", row["id"]), _NOTHING)) for row in rows)
    return tuple(sorted(found, key=lambda job: (job.started, job.id)))


def _occurrences(
    rows: Iterable[dict[str, Any]],
    parcels: list[dict[str, Any]],
    labels: dict[tuple[str, int], LabelNow],
    since: float,
    until: float,
) -> tuple[OccurrenceRow, ...]:
    sent: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for parcel in parcels:
        sent.setdefault((parcel["incident"], parcel["alarm"], parcel["occurrence"]), []).append(parcel)
    found = []
    for row in rows:
        if not since <= row["raised"] < until:
            continue
        told = sent.get((row["incident"], row["name"], row["occurrence"]), [])
        facts = json.loads(row["evidence"]) if isinstance(row["evidence"], str) else row["evidence"]
        plain = {name: row[name] for name in row if name not in ("name", "priority", "evidence")}
        found.append(
            OccurrenceRow(
                **plain,
                alarm=row["name"],
                priority=Priority(row["priority"]),
                evidence=facts if isinstance(facts, dict) else {},
                messages=len(told),
                first_told=min((one["delivered"] for one in told if one["delivered"] is not None), default=None),
                label=labels.get(("alarm", row["id"]), _NOTHING),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.raised, one.id)))


def _messages(
    parcels: list[dict[str, Any]], attempts: Iterable[dict[str, Any]], since: float, until: float
) -> tuple[MessageRow, ...]:
    tried: dict[int, int] = {}
    for attempt in attempts:
        tried[attempt["parcel"]] = tried.get(attempt["parcel"], 0) + 1
    found = [
        MessageRow(
            **{
                **row,
                "kind": TellKind(row["kind"]),
                "priority": Priority(row["priority"]),
                "loud": bool(row["loud"]),
                "attempts": tried.get(row["id"], 0),
            }
        )
        for row in parcels
        if since <= row["at"] < until
    ]
    return tuple(sorted(found, key=lambda one: (one.at, one.id)))


def _sheets(rows: Iterable[dict[str, Any]], jobs: tuple[JobRow, ...]) -> tuple[SheetRow, ...]:
    def bore(row: dict[str, Any], job: JobRow) -> bool:
        if job.machine != row["machine"] or job.started < row["started"]:
            return False
        return row["ended"] is None or bool(job.started < row["ended"])

    found = (SheetRow(**row, jobs=sum(bore(row, job) for job in jobs)) for row in rows)
    return tuple(sorted(found, key=lambda sheet: (sheet.started, sheet.id)))
