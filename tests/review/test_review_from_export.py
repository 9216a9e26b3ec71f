"""An export gives the very figures that the record gives, so that anybody can check a review without the record."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from watchdog.record.reader import Reader
from watchdog.review.exported import NoExport, exported
from watchdog.review.figures import Review, figures
from watchdog.review.recorded import recorded
from watchdog.review.rows import House

DAY = 86_400.0
Write = Callable[[Path, Path, str], None]


def of_record(path: Path, since: float, until: float, house: House) -> Review:
    with Reader.read(path) as reader, reader.one_moment():
        return figures(recorded(reader, since, until, house), since, until, house)


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_figures_from_an_export_equal_those_of_the_record(
    term: Any, house: House, tmp_path: Path, write_export: Write, form: str
) -> None:
    """To the last digit: SQL on one side, plain tables on the other."""
    write_export(term.record, tmp_path / "out", form)
    own = of_record(term.record, term.since, term.until, house)
    assert own.jobs.jobs > 200
    assert own.losses.failed > 5
    assert own.alarms.useful.of > 15
    assert own.sheets.life is not None
    assert figures(exported(tmp_path / "out", term.since, term.until, house), term.since, term.until, house) == own


def test_rows_of_an_export_equal_those_of_the_record(
    term: Any, house: House, tmp_path: Path, write_export: Write
) -> None:
    """Not the figures alone: whatever a later figure takes is there as well."""
    write_export(term.record, tmp_path / "out", "jsonl")
    with Reader.read(term.record) as reader, reader.one_moment():
        own = recorded(reader, term.since, term.until, house)
    theirs = exported(tmp_path / "out", term.since, term.until, house)
    for name in own._fields:
        assert getattr(theirs, name) == getattr(own, name), name


def test_a_term_within_the_record_is_cut_alike(term: Any, house: House, tmp_path: Path, write_export: Write) -> None:
    write_export(term.record, tmp_path / "out", "csv")
    since, until = term.since + 30 * DAY + 50_000, term.since + 37 * DAY + 51_111
    own = of_record(term.record, since, until, house)
    assert 0 < own.jobs.jobs < 40
    assert figures(exported(tmp_path / "out", since, until, house), since, until, house) == own


def test_hot_minutes_are_those_that_the_record_counts(term: Any, house: House) -> None:
    with Reader.read(term.record) as reader, reader.one_moment():
        counted = [
            reader.hot_time(name, term.since, term.until, house.plastic(name).melts_at) for name in house.plastics
        ]
    heat = of_record(term.record, term.since, term.until, house).heat
    assert heat.in_jobs == sum(one.in_jobs for one in counted) > 1000
    assert heat.idle == sum(one.idle for one in counted) > 50


def test_an_export_of_nothing_gives_a_review_of_nothing(
    empty_record: Path, house: House, tmp_path: Path, write_export: Write
) -> None:
    write_export(empty_record, tmp_path / "out", "jsonl")
    rows = exported(tmp_path / "out", 0.0, DAY, house)
    assert figures(rows, 0.0, DAY, house) == of_record(empty_record, 0.0, DAY, house)


def test_a_folder_that_is_no_export_is_named(tmp_path: Path, house: House) -> None:
    with pytest.raises(NoExport, match=r"no label\.jsonl or label\.csv.*emberward export"):
        exported(tmp_path, 0.0, DAY, house)


@pytest.mark.parametrize(
    ("name", "text"),
    [("label.jsonl", "{"), ("label.jsonl", "{}\n"), ("label.csv", "id\r\n1\r\n"), ("label.csv", "\xff" * 3)],
)
def test_a_file_that_is_no_table_is_named(
    term: Any, house: House, tmp_path: Path, write_export: Write, name: str, text: str
) -> None:
    folder = tmp_path / "out"
    write_export(term.record, folder, name.partition(".")[2])
    (folder / name).write_bytes(text.encode("latin-1"))
    with pytest.raises(NoExport, match=rf"{name}: not a table of an export"):
        exported(folder, 0.0, DAY, house)
