"""What people say of jobs, incidents, alarms and first layers: kept, corrected, never erased."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, JobChanged, Priority, Transition
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch
from watchdog.record.labels import BadLabel, UnknownSubject, Words
from watchdog.record.store import Record
from watchdog.record.term_rows import LabelNow, Result, Subject, Usefulness


def at(seconds: float) -> Moment:
    return Moment(100.0 + seconds, 1_772_442_000.0 + seconds)


def job(seconds: float, number: int, event: str, since: float) -> JobChanged:
    return JobChanged(at(seconds), event, number, None, None, "card", since)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    """Three jobs, the last of which runs, and two incidents: one in the second job, one after it."""
    with Record.open(tmp_path / "record.db", at(0)) as opened:
        for nth in range(1, 4):
            start = nth * 10_000.0
            opened.commit(Batch("doorway-1", at(start), (job(start, nth, "started", 0),)))
            if nth < 3:
                opened.commit(Batch("doorway-1", at(start + 900), (job(start + 900, nth, "completed", 900),)))
        for nth, (start, name) in enumerate([(20_100.0, "job-stalled"), (25_000.0, "hot-idle")], start=1):
            for seconds, transition in ((start, Transition.RAISED), (start + 60, Transition.CLEARED)):
                change = AlarmChanged(at(seconds), name, nth, transition, Priority.HIGH, {"nth": nth})
                opened.commit(Batch("doorway-1", at(seconds), (change,)))
        yield opened


def say(record: Record, kind: Subject, subject: int, words: Words, seconds: float = 30_000.0) -> int:
    return record.label(kind, subject, words, at=at(seconds).stamp, by="workshop lead", how="command")


def test_a_label_is_kept_with_who_and_when(record: Record) -> None:
    words = Words(Result.FAILED, "feed-tangle", "material", "cut a clean end", "cheap spool", None)
    number = say(record, Subject.JOB, 2, words)
    (row,) = record.labels_of(Subject.JOB, 2)
    assert row[:5] == (number, Subject.JOB, 2, "doorway-1", at(20_000).stamp)
    assert row[5:11] == words
    assert (row.by, row.how, row.at) == ("workshop lead", "command", at(30_000).stamp)
    assert record.jobs()[1].label == LabelNow(*words)
    assert record.jobs()[0].label == LabelNow(*(None,) * 6)


def test_a_later_label_corrects_and_the_earlier_one_stays(record: Record) -> None:
    """Somebody who asks at the end of term sees what was said first, by whom, and what was said after."""
    say(record, Subject.JOB, 2, Words(Result.GOOD, "none", note="looks fine"))
    say(record, Subject.JOB, 2, Words(Result.FAILED, "feed-tangle"), 31_000)
    say(record, Subject.JOB, 2, Words(origin="material"), 32_000)
    said = record.labels_of(Subject.JOB, 2)
    assert [(one.outcome, one.cause, one.at) for one in said] == [
        (Result.GOOD, "none", at(30_000).stamp),
        (Result.FAILED, "feed-tangle", at(31_000).stamp),
        (None, None, at(32_000).stamp),
    ]
    now = LabelNow(Result.FAILED, "feed-tangle", "material", None, "looks fine", None)
    assert record.label_now(Subject.JOB, 2) == now
    assert record.jobs()[1].label == now
    assert record.label_now(Subject.JOB, 1) == LabelNow(*(None,) * 6)


def test_what_is_called_good_after_all_has_no_cause_any_more(record: Record) -> None:
    """Else `jobs` tells of a good part with a tangled spool, and `incidents --cause` finds it."""
    say(record, Subject.JOB, 2, Words(Result.FAILED, "feed-tangle", "material", "respooled", "cheap spool"))
    say(record, Subject.JOB, 2, Words(Result.GOOD), 31_000)
    assert record.jobs()[1].label == LabelNow(Result.GOOD, None, None, "respooled", "cheap spool", None)
    say(record, Subject.JOB, 2, Words(Result.FAILED), 32_000)
    assert record.label_now(Subject.JOB, 2).cause is None, "why it failed is to be said anew"
    say(record, Subject.JOB, 2, Words(Result.UNKNOWN, "let-go", "machine"), 33_000)
    assert record.label_now(Subject.JOB, 2)[:3] == (Result.UNKNOWN, "let-go", "machine"), "said together"


def test_an_alarm_is_useful_a_nuisance_or_late(record: Record) -> None:
    say(record, Subject.ALARM, 1, Words(usefulness=Usefulness.LATE))
    stalled, idle = record.occurrences()
    assert (stalled.alarm, stalled.label.usefulness, stalled.evidence) == ("job-stalled", Usefulness.LATE, {"nth": 1})
    assert (idle.alarm, idle.label.usefulness, idle.raised) == ("hot-idle", None, at(25_000).stamp)
    assert record.alarm_id("doorway-1", "hot-idle", 2) == record.alarm_id("doorway-1", "hot-idle") == idle.id
    assert record.alarm_id("doorway-1", "hot-idle", 3) is None
    assert [one.alarm for one in record.occurrences(alarm="hot-idle")] == ["hot-idle"]
    assert record.occurrences(machine="loft-1") == record.occurrences(at(25_001).stamp) == ()


def test_what_is_said_of_an_incident_is_shown_with_it(record: Record) -> None:
    say(record, Subject.INCIDENT, 1, Words(cause="feed-tangle"))
    say(record, Subject.ALARM, 1, Words(usefulness=Usefulness.USEFUL))
    say(record, Subject.ALARM, 2, Words(usefulness=Usefulness.NUISANCE))
    incident = record.incident(1)
    assert incident is not None
    assert [one.kind for one in incident.labels] == [Subject.INCIDENT, Subject.ALARM]
    assert incident.alarms[0].id == 1


def test_a_first_layer_is_kept_with_the_age_of_the_sheet(record: Record) -> None:
    """Which sheets let go, and after how many jobs, is asked at the end of term."""
    record.new_sheet("doorway-1", at=at(5_000).stamp, by="workshop lead")
    record.label(Subject.FIRST_LAYER, 2, Words(Result.BAD), at=at(20_300).stamp, by="evening tutor", how="link")
    (row,) = record.labels_of(Subject.FIRST_LAYER, 2)
    assert (row.outcome, row.sheet, row.sheet_age) == (Result.BAD, 1, 1)
    assert record.labels_of(Subject.JOB, 2) == ()  # the part itself may still become good
    assert record.labels(kind=Subject.FIRST_LAYER) == (row,)


def test_labels_of_a_term_are_those_of_what_began_in_it(record: Record) -> None:
    say(record, Subject.JOB, 1, Words(Result.GOOD), 90_000)
    say(record, Subject.JOB, 2, Words(Result.GOOD), 90_001)
    assert [one.subject for one in record.labels(at(15_000).stamp, at(25_000).stamp)] == [2]
    assert record.labels(machine="loft-1") == ()


def test_what_nobody_has_judged_comes_newest_first(record: Record) -> None:
    waiting = [(one.kind, one.id, one.what) for one in record.unlabelled()]
    assert waiting == [
        (Subject.ALARM, 2, "hot-idle"),
        (Subject.JOB, 2, "completed"),
        (Subject.ALARM, 1, "job-stalled"),
        (Subject.JOB, 1, "completed"),
    ]
    say(record, Subject.JOB, 2, Words(note="to be looked at"))  # no outcome yet
    say(record, Subject.ALARM, 2, Words(usefulness=Usefulness.USEFUL))
    say(record, Subject.JOB, 1, Words(Result.UNKNOWN))
    assert [(one.kind, one.id) for one in record.unlabelled()] == [(Subject.JOB, 2), (Subject.ALARM, 1)]
    assert [one.id for one in record.unlabelled([Subject.INCIDENT])] == [2, 1]
    assert [one.what for one in record.unlabelled([Subject.INCIDENT], limit=1)] == ["hot-idle"]
    assert record.unlabelled([]) == record.unlabelled(machine="loft-1") == ()


@pytest.mark.parametrize(
    ("kind", "words", "said"),
    [
        (Subject.JOB, Words(), "says nothing"),
        (Subject.JOB, Words(Result.BAD), "'bad' cannot be said of a job: say one of failed, good, unknown"),
        (Subject.FIRST_LAYER, Words(Result.FAILED), "say one of bad, good, skipped"),
        (Subject.INCIDENT, Words(usefulness=Usefulness.LATE), "label the alarm instead"),
    ],
)
def test_a_label_that_makes_no_sense_is_refused(record: Record, kind: Subject, words: Words, said: str) -> None:
    with pytest.raises(BadLabel, match=said):
        say(record, kind, 1, words)
    assert record.labels() == ()


@pytest.mark.parametrize("kind", list(Subject))
def test_nothing_is_said_of_what_is_not_there(record: Record, kind: Subject) -> None:
    with pytest.raises(UnknownSubject, match=r"no \w+ 99 in the record"):
        say(record, kind, 99, Words(Result.GOOD))


def test_incidents_are_found_by_cause_and_label(record: Record) -> None:
    say(record, Subject.JOB, 2, Words(Result.FAILED, "feed-tangle"))
    say(record, Subject.ALARM, 2, Words(usefulness=Usefulness.NUISANCE))
    say(record, Subject.INCIDENT, 2, Words(cause="question-in-between"))
    assert [row.id for row in record.incidents(cause="feed-tangle")] == [1]
    assert [row.id for row in record.incidents(cause="question-in-between")] == [2]
    assert [row.id for row in record.incidents(label="failed")] == [1]
    assert [row.id for row in record.incidents(label="nuisance")] == [2]
    assert record.incidents(cause="feed-tangle", label="nuisance") == ()
    assert record.incidents(cause="feed-tangle", machine="loft-1") == ()
    say(record, Subject.JOB, 2, Words(cause="worn-sheet"))
    assert record.incidents(cause="feed-tangle") == ()  # corrected
    assert len(record.incidents()) == 2
