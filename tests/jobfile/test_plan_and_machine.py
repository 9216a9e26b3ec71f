"""The plan against a machine that steps through the same file by its own reader, queue and clock."""

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.simulator.machine import Options, SimulatedMachine

Run = Callable[..., Any]
Shape = Callable[[str, float], bytes]

POLL = 0.5  # s
LIKE_THE_MACHINE = MachineLimits(waiting_lines=3)
"""its four slots, of which the last holds the line that has just been read; all else is as in the simulated machine"""


@pytest.mark.parametrize("name", ["vase", "lattice", "arcs", "mixed"])
def test_the_byte_counter_of_a_machine_follows_the_plan(run: Run, shape: Shape, name: str) -> None:
    """Heat, which the two model differently, is left out: time counts from the first kilobytes behind the homing."""
    text = shape(name, 0.06)
    machine = SimulatedMachine(Options(family="A", files=(("job.gco", text),)), seed=1)
    machine.advance(2.0)
    machine.panel.choose("job.gco")
    machine.panel.start()
    seen: list[tuple[float, int]] = []
    while b"Done printing" not in machine.take():
        machine.advance(machine.now + POLL)
        seen.append((machine.now, machine.card.byte(machine.now)))
        assert machine.now < 10_000
    done = machine.now
    plan = run("plain", text, LIKE_THE_MACHINE).plan
    prepared = max(hold.byte for hold in plan.holds if hold.kind != "dwell") + 2000
    # the counter moved between two polls; the last poll finds the file closed
    moved = [(before, now, byte) for (before, was), (now, byte) in pairwise(seen) if byte > was > prepared]
    shift = moved[0][1] - plan.seconds_at(moved[0][2])
    off = [
        max(before - shift - at, at - (now - shift), 0.0)
        for before, now, byte in moved
        for at in [plan.seconds_at(byte)]
    ]
    assert len(moved) >= 15
    assert max(off) <= 1.0 + POLL
    assert max(off) <= 0.01 * plan.seconds
    assert done - shift == pytest.approx(plan.seconds, abs=1.0 + POLL)
