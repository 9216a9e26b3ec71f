"""`label`: what became of a job, an incident or an alarm, corrected by later words and never erased."""

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.record.store import Record
from watchdog.record.term_rows import Result, Subject, Usefulness

Command = Callable[..., subprocess.CompletedProcess[str]]
Open = Callable[[], Record]


def test_a_failed_job_is_labelled_in_one_line(emberward: Command, logged: Path, record_of: Open) -> None:
    done = emberward(
        "label", "j2", "--outcome", "failed", "--cause", "feed-tangle", "--remedy", "respooled", "--note", "third this term",
        "--by", "workshop lead", "--config", logged,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("j2: failed, feed-tangle (material), remedy: respooled, note: third this term.")
    with record_of() as record:
        (label,) = record.labels_of(Subject.JOB, 2)
    assert (label.outcome, label.cause, label.origin, label.remedy, label.note) == (
        Result.FAILED, "feed-tangle", "material", "respooled", "third this term",
    )  # fmt: skip
    assert (label.by, label.how) == ("workshop lead", "command")


@pytest.mark.parametrize(
    ("written", "kind", "number"),
    [
        (("j2",), Subject.JOB, 2),
        (("job", "2"), Subject.JOB, 2),
        (("J2",), Subject.JOB, 2),
        (("1",), Subject.INCIDENT, 1),
        (("i1",), Subject.INCIDENT, 1),
        (("#1",), Subject.INCIDENT, 1),
        (("a1",), Subject.ALARM, 1),
        (("doorway-1/hot-idle",), Subject.ALARM, 1),
    ],
)
def test_every_form_of_an_id_means_what_the_help_says(
    written: tuple[str, ...], kind: Subject, number: int, emberward: Command, logged: Path, record_of: Open
) -> None:
    done = emberward("label", *written, "--note", "seen", "--config", logged)
    assert done.returncode == 0, done.stderr
    with record_of() as record:
        assert [label.note for label in record.labels_of(kind, number)] == ["seen"]


def test_an_alarm_is_called_useful_or_not(emberward: Command, logged: Path, record_of: Open) -> None:
    assert emberward("label", "a1", "--useful", "nuisance", "--config", logged).returncode == 0
    with record_of() as record:
        assert record.label_now(Subject.ALARM, 1).usefulness is Usefulness.NUISANCE
    wrong = emberward("label", "j2", "--useful", "late", "--config", logged)
    assert wrong.returncode == 1
    assert "label the alarm instead" in wrong.stderr


def test_a_later_word_corrects_and_show_tells_both_with_who_and_when(emberward: Command, logged: Path) -> None:
    """A label is evidence: who changed their mind, and when, must be seen."""
    emberward(
        "label", "j2", "--outcome", "failed", "--cause", "nozzle-jam", "--by", "workshop lead", "--config", logged
    )
    emberward("label", "j2", "--outcome", "good", "--by", "evening tutor", "--config", logged)
    shown = emberward("show", "j2", "--config", logged).stdout
    first, second = (line for line in shown.splitlines() if "(by " in line)
    assert "j2: failed, nozzle-jam (machine)  (by workshop lead, command)" in first
    assert "j2: good  (by evening tutor, command)" in second
    register = emberward("jobs", "--json", "--config", logged).stdout.splitlines()
    assert json.loads(register[1])["label"]["outcome"] == "good"
    assert "evening tutor" in emberward("show", "1", "--config", logged).stdout, (
        "the job of the incident is told with it"
    )


def test_an_unknown_cause_is_refused_with_the_nearest(emberward: Command, logged: Path, record_of: Open) -> None:
    done = emberward("label", "j2", "--outcome", "failed", "--cause", "nozle-jam", "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == "'nozle-jam' is no cause here. Did you mean nozzle-jam? The list is [review] causes.\n"
    with record_of() as record:
        assert record.labels_of(Subject.JOB, 2) == ()


def test_the_causes_of_the_settings_take_the_place_of_ours(emberward: Command, logged: Path, record_of: Open) -> None:
    logged.write_text(logged.read_text() + '[review.causes]\nmould-stuck = "design"\n')
    assert emberward("label", "j2", "--cause", "nozzle-jam", "--config", logged).returncode == 1
    assert emberward("label", "j2", "--cause", "mould-stuck", "--config", logged).returncode == 0
    done = emberward("label", "j2", "--cause", "mould-stuck", "--origin", "operator", "--config", logged)
    assert "mould-stuck (operator)" in done.stdout
    with record_of() as record:
        assert [label.origin for label in record.labels_of(Subject.JOB, 2)] == ["design", "operator"]


@pytest.mark.parametrize(
    "about", ["j99", "a99", "99", "doorway-1/silent", "attic/hot-idle", "nonsense", "²", "x" * 5000]
)
def test_what_there_is_not_cannot_be_labelled(about: str, emberward: Command, logged: Path) -> None:
    done = emberward("label", about, "--note", "seen", "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert "Traceback" not in done.stderr
    assert len(done.stderr) < 400
    assert "emberward" in done.stderr or "Write j41 for a job" in done.stderr


def test_a_label_that_says_nothing_is_refused(emberward: Command, logged: Path) -> None:
    done = emberward("label", "j2", "--config", logged)
    assert done.returncode == 1
    assert "the label says nothing" in done.stderr
    done = emberward("label", "--outcome", "good", "--config", logged)
    assert done.returncode == 2
    assert "say what it is about" in done.stderr


def test_a_note_that_steers_the_terminal_is_cleaned(emberward: Command, logged: Path, record_of: Open) -> None:
    """Words of one person are shown in the terminal of another, and in a report."""
    note = "clip\x1b[2J\x1b]0;owned\x07ped\n\tat  layer\u202e 90\u200b"
    by = "lead\x1b[31m"
    done = emberward("label", "j2", "--note", note, "--by", by, "--config", logged)
    assert done.returncode == 0, done.stderr
    with record_of() as record:
        (label,) = record.labels_of(Subject.JOB, 2)
    assert label.note == "clip[2J]0;ownedped at layer 90"
    assert label.by == "lead[31m"
    assert "\x1b" not in done.stdout + emberward("show", "j2", "--config", logged).stdout


@pytest.mark.parametrize(
    ("note", "said"),
    [
        ("x" * 501, "501 characters are too many. Keep it to 500."),
        ("x" * 100_000, "too many"),
        ("\x1b\x07 ", "nothing can be read"),
    ],
)
def test_a_note_that_is_too_long_or_empty_is_refused(
    note: str, said: str, emberward: Command, logged: Path, record_of: Open
) -> None:
    done = emberward("label", "j2", "--note", note, "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("note: ")
    assert said in done.stderr
    with record_of() as record:
        assert record.labels_of(Subject.JOB, 2) == ()


def test_incidents_are_found_by_what_was_said(emberward: Command, logged: Path) -> None:
    def found(*words: str) -> int:
        return len(emberward("incidents", "--json", *words, "--config", logged).stdout.splitlines())

    assert (found("--cause", "feed-tangle"), found("--label", "failed"), found("--label", "late")) == (0, 0, 0)
    emberward("label", "j2", "--outcome", "failed", "--cause", "feed-tangle", "--config", logged)
    emberward("label", "a1", "--useful", "late", "--config", logged)
    assert (found("--cause", "feed-tangle"), found("--label", "failed"), found("--label", "late")) == (1, 1, 1)
    assert found("--cause", "cable") == 0
    assert found("--label", "good") == 0


def test_the_register_is_narrowed_down_and_tells_what_is_known(emberward: Command, logged: Path) -> None:
    def found(*words: str) -> list[int]:
        done = emberward("jobs", "--json", *words, "--config", logged)
        assert done.returncode == 0, done.stderr
        return [json.loads(line)["id"] for line in done.stdout.splitlines()]

    assert found() == [3, 2, 1]
    assert found("--limit", "1") == [3]
    assert found("--since", "2026-03-02T12:30+00:00") == [3]
    assert found("--until", "2026-03-02T10:30+00:00") == [1]
    assert found("--machine", "loft-1") == []
    assert emberward("jobs", "--machine", "loft-1", "--config", logged).stdout == "no jobs\n"
    row = json.loads(emberward("jobs", "--json", "--limit", "1", "--config", logged).stdout)
    assert (row["started"], row["seconds"], row["active"], row["filament_g"]) == (
        "2026-03-02T13:00:00.000Z",
        1800.0,
        1620.0,
        8.0,
    )
    assert (row["file"], len(row["name_hash"])) == (None, 16), "names are not kept unless the settings say so"


def test_a_mistake_elsewhere_in_the_settings_keeps_nobody_from_entering(emberward: Command, logged: Path) -> None:
    logged.write_text(logged.read_text() + '[limits.hot-idle]\nfloor = "soon"\n[routes.push]\n')
    assert emberward("label", "j2", "--outcome", "good", "--config", logged).returncode == 0
    logged.write_text(logged.read_text() + '[review]\ncauses = "none"\n')
    done = emberward("label", "j2", "--outcome", "good", "--config", logged)
    assert done.returncode == 2
    assert "review.causes" in done.stderr


def test_nothing_is_entered_where_there_is_no_record(
    emberward: Command, config: Callable[[str], Path], tmp_path: Path
) -> None:
    """A mistyped folder must not get a record of its own, into which a term's labels vanish."""
    done = emberward("label", "j2", "--outcome", "good", "--config", config("[machines.doorway-1]\n"))
    assert (done.returncode, done.stdout) == (1, "")
    assert "there is no record yet" in done.stderr
    assert not (tmp_path / "state").exists()
