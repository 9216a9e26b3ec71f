"""`show`, drawn: in the terminal by its width and its letters, and as a picture that stands alone."""

import json
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import pytest

from watchdog.cli.charts import Frame, Mark, axis, chart, marked
from watchdog.cli.picture import lettered
from watchdog.cli.timeline import curves
from watchdog.record.reader import Reader

Command = Callable[..., subprocess.CompletedProcess[str]]


def test_a_chart_is_high_where_the_values_are_and_tells_what_is_not_known() -> None:
    frame = Frame(0.0, 8.0, 9)
    shown = chart(
        frame, "nozzle", [(t, None if t in (3, 4) else 100.0 + 10 * t) for t in range(9)], unit="°C", height=2
    )
    assert shown == [
        "nozzle, °C",
        "    180      ▂▄▆█",
        "    100 ▁▂▄??████",
    ]  # fmt: skip


def test_a_target_is_a_line_also_where_the_value_lies_above_it() -> None:
    frame = Frame(0.0, 3.0, 4, ascii=True)
    shown = chart(frame, "nozzle", [(t, 10.0 * t) for t in range(4)], [(0, 15.0)], height=2)
    assert shown == ["nozzle", "     30 - :#", "      0 .:##"]
    line = chart(frame, "nozzle", [(t, 10.0 * t) for t in range(4)], [(0, 15.0), (3, 15.0)], height=2)
    assert line[1] == "     30 ----"


def test_nothing_known_is_said_in_words() -> None:
    frame = Frame(0.0, 8.0, 9)
    assert chart(frame, "bed", []) == ["bed: not known"]
    assert chart(frame, "bed", [(1, None), (2, None)], [(1, 60.0)]) == ["bed: not known"]


def test_a_value_that_never_changes_is_drawn() -> None:
    assert "?" not in "".join(chart(Frame(0.0, 3.0, 4), "bed", [(t, 60.0) for t in range(4)]))


def test_marks_that_fall_together_are_told_as_several() -> None:
    frame = Frame(0.0, 9.0, 10)
    marks = [Mark(0, "R"), Mark(0, "R"), Mark(5, "A"), Mark(5, "M"), Mark(9, "E"), Mark(99, "E")]
    assert marked(frame, marks) == "        R    *   E"
    assert axis(frame, "09:00", "09:09") == "        09:0009:09"


@pytest.mark.parametrize("columns", [40, 60, 100, 200])
def test_the_drawing_fits_the_terminal(columns: int, emberward: Command, logged: Path) -> None:
    text = emberward("show", "1", "--config", logged, COLUMNS=str(columns)).stdout
    drawn = text[text.index("nozzle (line: target), °C") : text.index("what happened")].splitlines()
    charts = [line for line in drawn if re.match(r" {4,7}(\d+)? ", line) and "acknowledged" not in line]
    assert charts
    assert max(map(len, charts)) <= min(columns, 160)
    assert any("█" in line for line in charts)
    letters = next(line for line in drawn if re.fullmatch(r" +[*RAEM ]+", line))
    assert letters.split() == ["*", "A", "E"], "raised and told, taken on, ended"


def test_where_nothing_but_ascii_is_shown_all_of_it_is(emberward: Command, logged: Path) -> None:
    asked = emberward("show", "1", "--ascii", "--config", logged)
    assert (asked.returncode, asked.stderr) == (0, "")
    assert asked.stdout.isascii()
    assert "####" in asked.stdout
    told = emberward("show", "1", "--config", logged, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert (told.returncode, told.stderr) == (0, "")
    assert told.stdout.isascii()
    assert "####" in told.stdout
    for words in (["incidents"], ["jobs"], ["due"]):
        done = emberward(*words, "--config", logged, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
        assert (done.returncode, done.stderr) == (0, "")


def test_colour_adds_nothing_that_is_not_there_without_it(emberward: Command, logged: Path) -> None:
    assert "\x1b" not in emberward("show", "1", "--config", logged).stdout


def test_what_the_machine_sent_cannot_steer_the_terminal(emberward: Command, logged: Path) -> None:
    text = emberward("show", "1", "--config", logged).stdout
    assert r"< ok T:205.0 /0.0 \x1b[31mred\x07" in text


def test_an_incident_is_told_with_who_was_told_and_why(emberward: Command, logged: Path) -> None:
    text = emberward("show", "a1", "--config", logged).stdout
    assert "workshop-lead: alarm hot-idle, taken by a server 11:13:25 (on duty)" in text.replace("08:13", "11:13")
    assert "acknowledged by workshop lead (command)" in text
    assert "file read (line: planned evenly over the time foretold by the plan of its file), %" in text


def test_the_picture_is_xml_of_its_own_with_every_curve_and_mark(
    emberward: Command, logged: Path, tmp_path: Path
) -> None:
    place = tmp_path / "incident.svg"
    done = emberward("show", "1", "--svg", place, "--config", logged)
    assert (done.returncode, done.stderr) == (0, "")
    text = place.read_text("utf-8")
    root = ElementTree.fromstring(text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    words = " ".join("".join(element.itertext()) for element in root.iter("{http://www.w3.org/2000/svg}text"))
    for word in (
        "incident 1, doorway-1: hot-idle",
        "nozzle, °C",
        "bed, °C",
        "file read, %",
        "planned",
        "target",
        " RM ",
        " A ",
    ):
        assert word in words, word
    assert "<!DOCTYPE" not in text
    assert "<metadata" not in text
    for element in root.iter():
        for name, value in element.attrib.items():
            if name.endswith("href") or "url(" in value:
                assert value.startswith("#") or "url(#" in value, (name, value)
    assert not re.search(
        r"<(script|image|foreignObject)\b|@import|https?://(?!www\.w3\.org/(2000/svg|1999/xlink))", text
    )
    again = tmp_path / "again.svg"
    emberward("show", "1", "--svg", again, "--config", logged)
    assert again.read_bytes() == place.read_bytes()


def test_letters_of_marks_that_lie_close_do_not_cover_each_other() -> None:
    """An alarm and its first message come within seconds: drawn one over the other neither can be read."""
    marks = [Mark(0.0, "R"), Mark(2.0, "M"), Mark(2.9, "M"), Mark(50.0, "A"), Mark(96.0, "E"), Mark(100.0, "M")]
    assert list(lettered(marks, 3.0)) == [(1.45, "RM"), (50.0, "A"), (96.0, "E"), (100.0, "M")]
    assert list(lettered([], 3.0)) == []


def test_the_picture_is_light_and_readable_in_grey(emberward: Command, logged: Path, tmp_path: Path) -> None:
    """Curves are told apart by their dashes: a school prints in grey."""
    place = tmp_path / "incident.svg"
    emberward("show", "1", "--svg", place, "--config", logged)
    text = place.read_text("utf-8")
    assert "fill: #ffffff" in text
    assert "stroke-dasharray" in text
    colours = set(re.findall(r"(?:stroke|fill): #([0-9a-f]{6})", text))
    assert all(colour[:2] == colour[2:4] == colour[4:] for colour in colours), "greys alone"


def test_a_picture_that_cannot_be_written_is_told(emberward: Command, logged: Path, tmp_path: Path) -> None:
    done = emberward("show", "1", "--svg", tmp_path / "nowhere" / "x.svg", "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert "Name another file." in done.stderr


def test_without_the_plotting_library_it_is_said_what_to_install(logged: Path, tmp_path: Path) -> None:
    code = (
        "import sys; sys.modules['matplotlib'] = None\nfrom watchdog.cli import run\n"
        f"sys.exit(run(['show', '1', '--svg', '{tmp_path}/x.svg', '--config', '{logged}']))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (1, "")
    assert "pip install 'emberward[plots]'" in done.stderr


def test_the_curves_hold_what_the_record_holds(logged: Path) -> None:
    with Reader.read(logged.parent / "state" / "incidents.db") as record:
        incident = record.incident(1)
        assert incident is not None
        seen = curves(incident, record.job(2), None)
    assert len(seen.nozzle) == len(incident.readings) == 30
    assert seen.progress[0][1] == pytest.approx(100 * 1000 / 8000)
    assert seen.progress[8][1] is None
    job_began = 1_772_449_200.0
    assert all(value == pytest.approx(100 * (at - job_began) / 3000) for at, value in seen.planned if value is not None)


def test_a_job_is_shown_with_all_that_the_register_keeps(emberward: Command, logged: Path) -> None:
    text = emberward("show", "j2", "--config", logged).stdout
    with Reader.read(logged.parent / "state" / "incidents.db") as record:
        job = record.job(2)
    assert job is not None
    assert job.planned is not None
    assert f"foretold {job.planned / 60:.0f} min" in text
    assert "by the plan of its file" in text
    assert f"file: {job.size:,} bytes, card" in text
    assert re.search(r"  from 2026-03-02 \d\d:\d\d", text)


def test_a_job_that_was_not_seen_throughout_says_so(emberward: Command, logged: Path) -> None:
    """Else its times look as sure as those of the others."""
    assert "BLIND" not in emberward("jobs", "--config", logged).stdout
    with closing(sqlite3.connect(logged.parent / "state" / "incidents.db")) as record, record:
        record.execute(
            "INSERT INTO blind_span (machine, cause, since, until)"
            " SELECT machine, 'link', started + 60, started + 300 FROM job WHERE id = 1"
        )
    for shown in (emberward("jobs", "--config", logged), emberward("show", "j1", "--config", logged)):
        assert "BLIND for 4 min" in shown.stdout


def test_a_job_is_shown_as_json_with_its_labels(emberward: Command, logged: Path) -> None:
    emberward("label", "j1", "--outcome", "good", "--config", logged)
    shown = json.loads(emberward("show", "j1", "--json", "--config", logged).stdout)
    assert (shown["id"], shown["labels"][0]["outcome"], shown["label"]["outcome"]) == (1, "good", "good")
    assert emberward("show", "j77", "--config", logged).returncode == 1
