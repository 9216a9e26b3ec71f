"""What a review says: of nothing, of little, of a whole term; and whom it never names."""

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.record.reader import Reader
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import Result
from watchdog.review.figures import Review, figures
from watchdog.review.page import page
from watchdog.review.plain import plain
from watchdog.review.plots import draw
from watchdog.review.recorded import recorded
from watchdog.review.report import Report, report
from watchdog.review.rows import House, Rows
from watchdog.review.sections.notes import NOTES
from watchdog.review.text import text

DAY = 86_400.0
BEGIN = 1_772_409_600.0
MakeJob = Callable[..., JobRow]


def of_rows(house: House, **rows: Any) -> Review:
    return figures(Rows((), (), (), (), (), ())._replace(**rows), BEGIN, BEGIN + 98 * DAY, house)


@pytest.fixture(scope="module")
def whole(term: Any, house: House) -> Review:
    with Reader.read(term.record) as reader, reader.one_moment():
        return figures(recorded(reader, term.since, term.until, house), term.since, term.until, house)


def sentences(told: Report) -> int:
    """Full stops that end one; those within numbers and shares do not."""
    return sum(len(re.findall(r"[.!?](?:\s|$)", line)) for line in told.sentences)


def test_a_term_of_nothing_says_so(house: House) -> None:
    told = report(of_rows(house))
    assert sentences(told) == 5
    assert "saw no job on 2 machines" in told.sentences[0]
    assert "nothing can be said of success" in told.sentences[1]
    assert "too few to tell" in told.sentences[4]
    assert told.change.lines == ("Nothing in these figures asks for a change.",)
    assert draw(of_rows(house)) == {}
    assert page(told, {}).count("<section") == len(told.sections) + 1


@pytest.mark.parametrize("outcome", [None, Result.GOOD, Result.FAILED, Result.UNKNOWN])
def test_a_term_of_one_job_says_what_one_job_can_show(house: House, job: MakeJob, outcome: Result | None) -> None:
    found = of_rows(house, jobs=(job(0, outcome),))
    told = report(found)
    assert "1 job " in told.sentences[0]
    assert "too few to tell" in told.sentences[4]
    assert sentences(told) == 5
    printed = page(told, draw(found))
    assert "shows no trend" not in printed
    assert "than it did" not in printed


def test_no_trend_is_claimed_on_fewer_than_a_hundred_jobs(house: House, job: MakeJob) -> None:
    """Failures crowd at the end, and still it is too little to say so, in any of its forms."""
    jobs = tuple(job(nth, Result.FAILED if nth > 80 else Result.GOOD) for nth in range(95))
    found = of_rows(house, jobs=jobs)
    printed = text(report(found)) + page(report(found), draw(found))
    assert "too few to tell" in printed.lower()
    assert not re.search(r"more often than|less often than it|shows no trend|limit is reached", printed)


def test_a_trend_is_claimed_where_it_is_shown(house: House, job: MakeJob) -> None:
    jobs = tuple(job(nth, Result.FAILED if nth > 80 else Result.GOOD, started=BEGIN + nth * 8000) for nth in range(110))
    assert "doorway-1 fails more often than it did" in report(of_rows(house, jobs=jobs)).sentences[4]


def test_five_sentences_and_at_most_three_things_to_change(whole: Review) -> None:
    told = report(whole)
    assert len(told.sentences) == sentences(told) == 5
    assert 1 <= len(told.change.lines) <= 3
    assert len(whole.changes) > 0
    assert "opposite" not in told.change.lines[0]


def test_nobody_and_no_file_is_named(whole: Review, term: Any) -> None:
    """Names, roles, file names and notes were put into the record on purpose."""
    with Reader.read(term.record) as reader:
        assert any(row.file == "PLANTED~1.GCO" for row in reader.jobs(limit=None))
        assert any(row.by == "Filomena Planted" and row.note == "planted remark" for row in reader.labels())
        assert any(row.cause == "Filomena Planted" for row in reader.labels())
    told = report(whole)
    for printed in (text(told), page(told, draw(whole)), json.dumps(plain(whole))):
        for word in ("planted", "filomena", "workshop-lead", "duty-warden", "evening-tutor"):
            assert word not in printed.lower()


def test_no_word_promises_or_hurries(whole: Review, house: House) -> None:
    for found in (whole, of_rows(house)):
        printed = text(report(found)).lower()
        assert "is no safety device" in printed
        assert not re.search(r"\bsafe\b|\bhurry|\brush|\bquick|\bfault of\b|\bblame|\bcareless", printed)


@pytest.mark.parametrize("width", [80, 100])
def test_text_fits_a_terminal(whole: Review, width: int) -> None:
    """Wrapped by the terminal itself, a table cannot be read; and no line begins with a unit that lost its number."""
    lines = text(report(whole), width).splitlines()
    assert max(map(len, lines)) <= width
    assert not [line for line in lines if re.match(r"(%|min|h|g)(\b|$)", line)]


def test_of_fewer_than_a_hundred_no_tenths_of_a_percent_are_told(house: House, job: MakeJob) -> None:
    """One job more changes such a share by more than 1 %."""
    few = tuple(job(nth, Result.FAILED if nth < 2 else Result.GOOD) for nth in range(21))
    assert "90 % (95 % interval 71 to 97 %)" in report(of_rows(house, jobs=few)).sentences[1]
    many = tuple(job(nth, Result.FAILED if nth < 2 else Result.GOOD, started=BEGIN + nth * 9000) for nth in range(150))
    assert "98.7 % (95 % interval 95.3 to 99.6 %)" in report(of_rows(house, jobs=many)).sentences[1]


@pytest.mark.parametrize(
    ("causes", "told"),
    [
        (("nozzle-jam", "feed-tangle"), "; no cause was named twice."),
        (("nozzle-jam", "nozzle-jam", "feed-tangle"), "; most often named: nozzle-jam, 2 of 3."),
        (
            ("nozzle-jam", "nozzle-jam", "feed-tangle", "feed-tangle"),
            "; most often named: feed-tangle and nozzle-jam, 2 of 4 each.",
        ),
        (("nozzle-jam",), "; most often named: nozzle-jam, 1 of 1."),
        ((None, None), "g of filament (0.42 at the price that is set)."),
    ],
)
def test_no_cause_is_put_before_another_that_came_as_often(
    house: House, job: MakeJob, causes: tuple[str | None, ...], told: str
) -> None:
    """The alphabet would decide where somebody looks first."""
    jobs = tuple(job(nth, Result.FAILED, cause=cause) for nth, cause in enumerate(causes))
    assert report(of_rows(house, jobs=jobs)).sentences[2].endswith(told)


def test_of_causes_that_came_as_often_the_dearest_stands_first(house: House, job: MakeJob) -> None:
    """It is what is offered for a change."""
    took = {"feed-tangle": 600.0, "nozzle-jam": 7200.0}
    jobs = tuple(job(nth, Result.FAILED, cause=cause, seconds=took[cause]) for nth, cause in enumerate((*took, *took)))
    found = of_rows(house, jobs=jobs)
    assert [(loss.name, loss.cumulative) for loss in found.losses.causes] == [("nozzle-jam", 0.5), ("feed-tangle", 1.0)]
    assert report(found).change.lines[0].startswith("nozzle-jam is behind 50 % (2 of 4; 15 to 85 %)")


def test_a_sum_chart_is_drawn_of_a_hundred_judged_jobs_at_least(house: House, job: MakeJob) -> None:
    """Two failures pass its limit, and the picture would claim what the words do not."""
    jobs = tuple(job(nth, Result.FAILED if nth < 4 else Result.GOOD, started=BEGIN + nth * 8000) for nth in range(100))
    few, enough = of_rows(house, jobs=jobs[:99]), of_rows(house, jobs=jobs)
    assert few.reliability[0].cusum.first is not None
    assert "cusum" not in draw(few)
    assert "Too few judged jobs for it (100 are the least): doorway-1 (99)." in text(report(few), 1000)
    assert "cusum" in draw(enough)
    assert "the limit is reached at judged job" in text(report(enough), 1000)


def test_every_figure_leads_to_its_method(whole: Review) -> None:
    told = report(whole)
    keys = {key for section in (told.change, *told.sections) for key in section.notes}
    keys |= {table.note for section in told.sections for table in section.tables}
    keys |= {picture.note for section in told.sections for picture in section.pictures}
    assert keys <= NOTES.keys()
    assert NOTES.keys() == keys  # and no method is told of which there is no figure
    for section in (told.change, *told.sections):
        assert section.notes, section.title


def test_the_same_figures_give_the_same_page(whole: Review) -> None:
    assert page(report(whole), draw(whole)) == page(report(whole), draw(whole))


def test_figures_for_programs_are_strict_json(whole: Review, house: House) -> None:
    for found in (whole, of_rows(house)):
        told = plain(found)
        assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert plain(whole)["since"] == "2026-03-02T00:00:00.000Z"
    assert plain(whole)["jobs"]["good"]["of"] == whole.jobs.good.of


def test_without_prices_no_money_is_spoken_of(house: House, job: MakeJob) -> None:
    poor = replace(house, filament_price=None, sheet_price=None)
    assert "price that is set" not in text(report(of_rows(poor, jobs=(job(0, Result.FAILED),))))


def test_every_alarm_of_the_table_can_stand_in_a_review(house: House, alarm: Callable[..., Any]) -> None:
    raised = tuple(alarm(BEGIN + nth * 9000, name) for nth, name in enumerate(TABLE))
    (section,) = (one for one in report(of_rows(house, occurrences=raised)).sections if one.key == "alarms")
    assert len(section.tables[0].rows) == 16
    assert any("Not in the table: " in line for line in section.lines)


def test_a_page_is_escaped(house: House, job: MakeJob) -> None:
    """A machine's name comes from the settings, and a record may be another house's."""
    odd = replace(house, plastics={})
    found = of_rows(odd, jobs=(job(0, machine="<b>&"), job(1, machine="<b>&", outcome=Result.FAILED)))
    printed = page(report(found), draw(found))
    assert "<b>" not in printed
    assert "&lt;b&gt;" in printed


def test_a_page_without_plots_says_why(whole: Review, tmp_path: Path) -> None:
    printed = page(report(whole), {}, "no plots: matplotlib is not installed")
    assert "no plots: matplotlib is not installed" in printed
    assert "<svg" not in printed
    assert "<figure" not in printed
