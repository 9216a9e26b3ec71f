"""What must hold for any file: physics, and that only what moves the machine counts."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from watchdog.jobfile.machine_limits import Axes, MachineLimits

Run = Callable[..., Any]

LIMITS = MachineLimits(blocks=6)
lines = st.lists(
    st.one_of(
        st.builds(lambda x, y: f"G1 X{x / 8} Y{y / 8}", st.integers(0, 800), st.integers(0, 800)),
        st.builds(lambda z: f"G1 Z{z / 8}", st.integers(0, 80)),
        st.builds(lambda e: f"G1 E{e / 8}", st.integers(-8, 8)),
        st.builds(lambda f: f"G1 F{f}", st.integers(100, 9000)),
        st.builds(lambda x, e: f"G1 X{x / 8} E{e / 64}", st.integers(0, 800), st.integers(1, 64)),
        st.sampled_from(["G4 P100", "M106 S9"]),
    ),
    min_size=1,
    max_size=40,
)
some = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
both = pytest.mark.parametrize("engine", ["plain", "vector"])


def checked(line: str, number: int) -> str:
    """The line with its number and checksum."""
    body = f"N{number} {line} "
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"{body}*{total}"


def times(factor: float, axes: Axes) -> Axes:
    """Every axis alike."""
    x, y, z, e = axes
    return factor * x, factor * y, factor * z, factor * e


DRESSES: dict[str, Callable[[list[str]], str]] = {
    "comments": lambda job: "".join(f"; note\n{line} ; why X9 Y9\n" for line in job),
    "brackets": lambda job: "".join(f"(note X9) {line} (more)\n" for line in job),
    "blanks": lambda job: "".join(f"  {line.replace(' ', '   ')}\t\n\n" for line in job),
    "no blanks": lambda job: "".join(line.replace(" ", "") + "\n" for line in job),
    "numbers": lambda job: "".join(checked(line, n) + "\n" for n, line in enumerate(job, 1)),
    "CRLF": lambda job: "".join(line + "\r\n" for line in job),
    "CR": lambda job: "".join(line + "\r" for line in job),
    "lower case": lambda job: "".join(line.lower() + "\n" for line in job),
    "leading zeros": lambda job: "".join(line.replace("G1 ", "G01 ").replace("X", "X00") + "\n" for line in job),
    "mark at the start": lambda job: "\ufeff; note\n" + "".join(line + "\n" for line in job),
}


@both
@pytest.mark.parametrize("dress", DRESSES.values(), ids=list(DRESSES))
@some
@given(job=lines)
def test_how_a_file_is_written_changes_nothing(
    run: Run, engine: str, dress: Callable[[list[str]], str], job: list[str]
) -> None:
    bare = run(engine, "M83\n" + "".join(line + "\n" for line in job), LIMITS).plan
    dressed = run(engine, dress(["M83", *job]), LIMITS).plan
    assert dressed.seconds == pytest.approx(bare.seconds, rel=1e-12)
    assert dressed.filament == pytest.approx(bare.filament, rel=1e-12, abs=1e-12)
    assert dressed.moves == bare.moves
    assert dressed.odd == 0


@both
@some
@given(first=lines, second=lines)
def test_two_jobs_behind_each_other_last_as_long_as_both(
    run: Run, engine: str, first: list[str], second: list[str]
) -> None:
    """With a rest between, and the second begun where the first ended, at the same speed."""
    start = "M83\nG92 X0 Y0 Z0 E0\nG1 F1500\n"
    one, two = (start + "".join(line + "\n" for line in job) + "M400\n" for job in (first, second))
    apart = run(engine, one, LIMITS).plan.seconds + run(engine, two, LIMITS).plan.seconds
    assert run(engine, one + two, LIMITS).plan.seconds == pytest.approx(apart, rel=1e-9)


@both
@pytest.mark.parametrize("deviation", [0.02, None])
@some
@given(job=lines)
def test_twice_the_speed_and_four_times_the_acceleration_take_half_the_time(
    run: Run, engine: str, deviation: float | None, job: list[str]
) -> None:
    slow = replace(LIMITS, deviation=deviation)
    fast = replace(
        slow,
        speed=times(2, slow.speed),
        acceleration=times(4, slow.acceleration),
        jerk=times(2, slow.jerk),
        printing=4 * slow.printing,
        travelling=4 * slow.travelling,
        retracting=4 * slow.retracting,
    )
    text = "M83\nG1 F1500\n" + "".join(line + "\n" for line in job)
    quicker = run(engine, text.replace("G1 F1500", "G1 F1500\nM220 S200"), fast).plan
    assert quicker.moving == pytest.approx(run(engine, text, slow).plan.moving / 2, rel=1e-9)


@both
@some
@given(job=lines)
def test_the_map_never_falls_and_is_within_its_tolerance(run: Run, engine: str, job: list[str]) -> None:
    plan, _ = run(engine, "M83\n" + "".join(line + "\n" for line in job), LIMITS)
    knots = plan.knots()
    assert knots[0][:2] == (0, 0.0)
    assert all(one[0] < two[0] and one[1] <= two[1] for one, two in pairwise(knots))
    times = [plan.seconds_at(byte) for byte in range(plan.size + 1)]
    assert times == sorted(times)
    assert times[-1] <= plan.seconds + 1e-9
    back = [plan.byte_at(seconds) for seconds in times]
    assert back == sorted(back)
