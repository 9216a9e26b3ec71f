"""What people enter while the service runs: it owns the record, and the watch knows at once of another spool."""

import json
import math
import sqlite3
from collections.abc import Callable
from contextlib import closing
from typing import TYPE_CHECKING, Any

import pytest

from watchdog.core.moment import Moment
from watchdog.record.reader import Reader
from watchdog.record.store import Record
from watchdog.record.term_rows import Result, Subject
from watchdog.service.control import ask
from watchdog.simulator.jobs import SAMPLES

if TYPE_CHECKING:
    from tests.service.conftest import House

Wait = Callable[..., Any]
PER_MM = math.pi / 4 * 1.74**2 * 1.24 / 1_000  # g/mm of PLA of 1.74 mm

pytestmark = pytest.mark.timeout(240)


def spool(house: "House") -> dict[str, Any]:
    (machine,) = ask(house.socket, {"do": "spools"})["machines"]
    assert isinstance(machine, dict)
    return machine


def kept(house: "House") -> Reader:
    return Reader.read(house.folder / "incidents.db")


def test_a_spool_that_is_entered_is_in_the_record_and_in_the_watch(house: "House", wait: Wait) -> None:
    """`spool-short` is judged by the watch's own account: one that it hears of after a restart comes too late."""
    house.plug_in()
    house.watch()
    assert spool(house) == {"machine": "doorway-1", "left_mm": None, "needed_mm": None}
    done = house.command("spool", "load", "--grams", "1000", "--empty", "210", "--diameter", "1.74", "--by", "tutor")
    assert (done.returncode, done.stderr) == (0, "")
    assert spool(house)["left_mm"] == pytest.approx(1000 / PER_MM)
    assert house.command("spool", "weigh", "640").returncode == 0
    assert spool(house)["left_mm"] == pytest.approx(430 / PER_MM)
    assert "no job with a plan runs" in house.command("spool").stdout
    with kept(house) as record:
        (row,) = record.spools()
        (noted, *_) = [event for event in record.events() if event.what == "spool"]
    assert row.loaded_by == "tutor"
    assert row.left_g == pytest.approx(430)
    assert noted.facts["left_mm"] == round(430 / PER_MM)
    refused = house.command("spool", "weigh", "100")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "less than the empty spool" in refused.stderr
    assert house.command("spool", "off").returncode == 0
    assert spool(house)["left_mm"] is None
    assert house.stop() == 0


def test_a_spool_that_was_entered_while_no_service_ran_is_known_after_the_start(house: "House") -> None:
    house.rate = 1.0  # the command without a service goes by the real time
    house.plug_in()
    house.watch()
    house.command("spool", "load", "--grams", "1000", "--empty", "210")
    assert house.stop() == 0
    assert house.command("spool", "load", "--material", "PETG", "--grams", "500", "--diameter", "1.74").returncode == 0
    with kept(house) as record:
        left = record.spools(loaded_only=True)[0].left_mm
    house.watch()
    assert spool(house)["left_mm"] == pytest.approx(left)
    house.kill()
    house.watch()
    assert spool(house)["left_mm"] == pytest.approx(left)
    assert house.stop() == 0


def test_a_spool_that_ends_before_the_job_does_is_told_from_the_entered_account(house: "House", wait: Wait) -> None:
    """Plan, account and alarm meet in the service alone: each by itself would be right, and nobody told."""
    jobs = house.folder / "jobs"
    jobs.mkdir()
    (jobs / "oar-collar.gcode").write_bytes(SAMPLES["oar-collar.gcode"]())
    house.config.write_text(f'jobs = "{jobs}"\n' + house.config.read_text())
    house.plug_in()
    house.watch()
    wait("the machine to be heard", lambda: (house.status() or {})["machines"][0]["link"] == "available")
    thick = house.command("spool", "load", "--material", "PLA", "--grams", "1.5", "--diameter", "1.83")
    assert "+9.4 % of flow" in thick.stdout
    assert "WARNING: above 1.80 mm" in thick.stdout
    house.do("choose oar-collar.gcode")
    house.do("start")
    seen = wait("spool-short", lambda: house.alarms().get("spool-short"))["evidence"]
    assert seen["short_mm"] == pytest.approx(seen["needed_mm"] - seen["left_on_spool_mm"], abs=1)
    assert "SHORT" in house.command("spool").stdout
    assert house.stop() == 0


def test_a_job_is_judged_through_the_service_and_carries_what_was_loaded(house: "House", wait: Wait) -> None:
    """The service holds the record: two writers would wait for each other's locks in the middle of an alarm."""
    house.plug_in()
    house.watch()
    wait("the machine to be heard", lambda: (house.status() or {})["machines"][0]["link"] == "available")
    house.command("spool", "load", "--material", "PETG", "--grams", "500")
    assert house.command("sheet", "new", "--by", "workshop lead").returncode == 0
    house.do("choose thumb-ring.gcode")
    house.do("start")
    wait("the job", lambda: (house.status() or {})["machines"][0]["execution"] == "building")
    house.do("stop")

    def ended() -> bool:
        with kept(house) as record:
            return any(job.ended is not None for job in record.jobs())

    wait("its end", ended)
    (job,) = map(json.loads, house.command("jobs", "--json").stdout.splitlines())
    assert (job["material"], job["sheet"], job["sheet_age"]) == ("PETG", 1, 0)
    words = ("--outcome", "failed", "--cause", "let-go", "--note", "a\x1b[31mb\nc", "--by", "lead\x07")
    done = house.command("label", f"j{job['id']}", *words)
    assert done.returncode == 0, done.stderr
    unknown = house.command("label", f"j{job['id']}", "--cause", "let-gone")
    assert (unknown.returncode, unknown.stdout) == (1, "")
    assert "Did you mean let-go?" in unknown.stderr
    assert house.command("done", "nozzle-height").returncode == 0
    with kept(house) as record:
        (label,) = record.labels_of(Subject.JOB, job["id"])
        heights = record.upkeep("doorway-1", ["nozzle-height", "build-surface"], 150.0)
    assert (label.outcome, label.origin, label.note, label.by) == (Result.FAILED, "machine", "a[31mb c", "lead")
    assert [row.jobs for row in heights] == [0, 1]
    assert (
        "done"
        in {row["item"]: row for row in map(json.loads, house.command("due", "--json").stdout.splitlines())}["nozzle"]
    )
    assert house.stop() == 0


@pytest.mark.parametrize(
    "request_",
    [
        {"do": "label"},
        {"do": "label", "about": ["j1"], "note": "x"},
        {"do": "label", "about": "j1", "note": 7},
        {"do": "label", "about": "j1", "outcome": {"a": 1}},
        {"do": "label", "about": "j1", "cause": "x" * 90_000},
        {"do": "done"},
        {"do": "done", "item": "nozzle", "at": 9e12},
        {"do": "done", "item": "nozzle", "at": "now"},
        {"do": "sheet", "what": "new", "why": ["worn"]},
        {"do": "spool", "what": "load", "material": 5},
        {"do": "spool", "what": "load", "machine": "attic"},
        {"do": "spool", "what": "load", "grams": True},
        {"do": "weigh"},
        {"do": "measure", "mm": None},
    ],
    ids=lambda request: str(request)[:60],
)
def test_nonsense_is_refused_with_a_sentence(request_: dict[str, Any], house: "House") -> None:
    """A script that goes wrong gets told, and the watch goes on."""
    from watchdog.service.entries import enter
    from watchdog.settings import load

    settings = load(house.config)
    with Record.open(house.folder / "incidents.db", Moment(0.0, 1.77e9)) as record:
        with pytest.raises(ValueError, match=r"\w{3}"):
            enter(record, settings, request_, 1.77e9, "tutor")
        assert record.labels() == ()
        assert record.upkeep_done() == ()
        assert record.spools() == ()


def test_a_service_that_hangs_keeps_the_record_to_itself(house: "House") -> None:
    """Its lock is held and it does not answer: to write beside it would be to write against it."""
    house.watch()
    house.socket.unlink()
    done = house.command("done", "nozzle")
    assert (done.returncode, done.stdout) == (1, "")
    assert "nothing was entered" in done.stderr
    assert house.stop() == 0


def test_names_of_files_are_kept_only_where_the_settings_say_so(house: "House", wait: Wait) -> None:
    """They can hold pupils' names."""
    for extra, named in (("", False), ("[review]\nkeep_file_names = true\n", True)):
        house.settle(extra)
        if house.machine is None:
            house.plug_in()
        house.watch()
        wait("the machine to be heard", lambda: (house.status() or {})["machines"][0]["link"] == "available")
        house.do("choose thumb-ring.gcode")
        house.do("start")
        wait("the job", lambda: (house.status() or {})["machines"][0]["execution"] == "building")
        house.do("stop")
        wait("its end", lambda: (house.status() or {})["machines"][0]["execution"] != "building")
        assert house.stop() == 0
        with closing(sqlite3.connect(house.folder / "incidents.db")) as record:
            jobs = record.execute("SELECT file, name_hash FROM job ORDER BY id").fetchall()
        assert [file is not None for file, _ in jobs] == [False, True][: len(jobs)], jobs
        assert named is (len(jobs) == 2)
