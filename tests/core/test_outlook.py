"""Which file a job executes, by size, name and progress, and what the detectors are then told."""

from array import array
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.outlook import JobFile, short_name, which
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Job, Origin


def plan(size: int, seconds: float, digest: str) -> Plan:
    """Bytes read at a steady pace."""
    return Plan(
        size=size,
        digest=digest,
        seconds=seconds,
        moving=seconds,
        filament=1000.0,
        moves=100,
        knot_bytes=array("I", [0, size]).tobytes(),
        knot_seconds=array("d", [0.0, seconds]).tobytes(),
        knot_filament=array("f", [0.0, 1000.0]).tobytes(),
        still_blocks=b"",
        still_seconds=b"",
        tolerance=1.0,
        holds=(),
        layers=(0,),
        heats=(),
        faults=(),
        stated=(),
        odd=0,
        unknown=(),
        too_fast=0,
        hot_still=0.0,
    )


JOB = Job(number=1, origin=Origin.CARD, file=None, size=5000, started=100.0, started_stamp=0.0, progress=100)
CLEAT = JobFile("cleat hook left.gcode", plan(5000, 1000.0, "a"))
OAR = JobFile("oar-collar.gcode", plan(5000, 4000.0, "b"))
HULL = JobFile("hull.gcode", plan(9000, 4000.0, "c"))


def test_a_size_that_only_one_file_has_tells_it() -> None:
    assert which([CLEAT, HULL], JOB, 110.0) == (CLEAT, "size")
    assert which([HULL], JOB, 110.0) == (None, None)


def test_two_copies_of_one_file_are_one() -> None:
    copy = JobFile("copy of cleat hook left.gcode", CLEAT.plan)
    assert which([CLEAT, copy], JOB, 110.0)[0] == CLEAT


@pytest.mark.parametrize(
    ("told", "file"),
    [
        ("CLEATH~1.GCO", CLEAT),
        ("cleath~2.gco", CLEAT),
        ("cleat hook left.gcode", CLEAT),
        ("OARCOL~1.GCO", None),  # the dash stays in a short name
        ("OAR-CO~1.GCO", OAR),
        ("OTHER.GCO", None),
        ("CLEATH~1.TXT", None),
    ],
)
def test_of_two_files_of_one_size_the_name_tells(told: str, file: JobFile | None) -> None:
    """Long as the host says it, or 8.3 as the card does, in any case."""
    found, by = which([CLEAT, OAR], replace(JOB, file=told), 110.0)
    assert found == file
    assert by == ("name" if file is not None else None)


def test_where_two_still_fit_the_progress_tells_and_before_that_nobody_guesses() -> None:
    assert which([CLEAT, OAR], JOB, 150.0) == (None, None)
    half = replace(JOB, progress=2500)
    assert which([CLEAT, OAR], half, 100.0 + 520) == (CLEAT, "progress")
    assert which([CLEAT, OAR], half, 100.0 + 1900) == (OAR, "progress")
    held = replace(half, held=1400.0)
    assert which([CLEAT, OAR], held, 100.0 + 1900) == (CLEAT, "progress")


def test_a_streamed_job_has_no_size_to_be_known_by() -> None:
    assert which([CLEAT], replace(JOB, origin=Origin.STREAMED), 110.0)[0] is None
    assert which([CLEAT], replace(JOB, size=None), 110.0) == (None, None)


@given(st.text(max_size=40))
def test_any_name_has_a_short_form(name: str) -> None:
    kept, ending = short_name(name)
    assert len(ending) <= 3
    assert " " not in kept
    assert "." not in kept
