"""The look-ahead against solvers that know nothing of it."""

import random
from collections.abc import Callable
from itertools import pairwise
from math import sqrt
from typing import Any

import pytest

from watchdog.jobfile.kinematics import duration

Timed = Callable[..., Any]
A = 1250.0


def chain(seed: int) -> tuple[list[float], list[float], list[float]]:
    """Lengths, speeds and caps of a random chain of 2 to 11 moves."""
    chance = random.Random(seed)
    count = chance.randint(2, 11)
    lengths = [10 ** chance.uniform(-1, 1.3) for _ in range(count)]
    speeds = [chance.uniform(10, 150) for _ in range(count)]
    caps = [0.0, *(min(pair) * chance.random() for pair in pairwise(speeds)), 0.0]
    return lengths, speeds, caps


@pytest.mark.parametrize("engine", ["plain", "vector"])
def test_a_general_optimiser_finds_no_faster_way_and_none_slower(timed: Timed, engine: str) -> None:
    """scipy's SLSQP over the junction speeds, 60 random chains.

    It minimises the sum of the exact times under |v1² − v0²| ≤ 2aL, starting from rest everywhere.
    """
    optimize = pytest.importorskip("scipy.optimize", reason="scipy is not installed")
    worst = 0.0
    for seed in range(60):
        lengths, speeds, caps = chain(seed)
        ours = sum(move.seconds for move in timed(engine, lengths, speeds, caps, A))
        gains = [2 * A * length for length in lengths]

        def total(inner: Any, lengths: list[float] = lengths, speeds: list[float] = speeds) -> float:
            v = [0.0, *map(float, inner), 0.0]
            return sum(
                duration(length, max(0.0, v0), max(0.0, v1), speed, A)
                for length, (v0, v1), speed in zip(lengths, pairwise(v), speeds, strict=True)
            )

        def slack(inner: Any, gains: list[float] = gains) -> list[float]:
            v = [0.0, *map(float, inner), 0.0]
            ways = [v1 * v1 - v0 * v0 for v0, v1 in pairwise(v)]
            return [(gain - way) / 1000 for gain, way in zip(gains, ways, strict=True)] + [
                (gain + way) / 1000 for gain, way in zip(gains, ways, strict=True)
            ]

        start = [0.5 * move.entry for move in timed(engine, lengths, speeds, caps, A)][1:]
        found = optimize.minimize(
            total,
            start,
            method="SLSQP",
            bounds=[(0.0, cap) for cap in caps[1:-1]],
            constraints=[{"type": "ineq", "fun": slack}],
            options={"ftol": 1e-15, "maxiter": 1000},
        )
        worst = max(worst, abs(found.fun - ours) / ours)
    assert worst < 1e-9


@pytest.mark.parametrize("engine", ["plain", "vector"])
def test_an_exact_motion_library_times_every_move_alike(timed: Timed, engine: str) -> None:
    """ruckig, move by move between the same end speeds, without a limit on jerk.

    The length is enlarged by 1e-12: at a move that is saturated to the last bit it would look for a detour.
    """
    ruckig = pytest.importorskip("ruckig", reason="ruckig is not installed: there is no wheel for every processor")
    worst = 0.0
    for seed in range(60):
        lengths, speeds, caps = chain(seed)
        moves = timed(engine, lengths, speeds, caps, A)
        for move, speed in zip(moves, speeds, strict=True):
            task = ruckig.InputParameter(1)
            task.current_position, task.target_position = [0.0], [move.length * (1 + 1e-12)]
            task.current_velocity, task.target_velocity = [move.entry], [move.leave]
            task.max_velocity, task.max_acceleration = [speed * (1 + 1e-12)], [A * (1 + 1e-12)]
            task.max_jerk = [float("inf")]
            path = ruckig.Trajectory(1)
            assert ruckig.Ruckig(1).calculate(task, path) == ruckig.Result.Working
            worst = max(worst, abs(path.duration - move.seconds) / move.seconds)
    assert worst < 1e-9


@pytest.mark.parametrize("engine", ["plain", "vector"])
@pytest.mark.parametrize("blocks", [2, 3, 5, 9, 17])
def test_the_window_equals_a_planner_that_plans_anew_for_every_move(timed: Timed, engine: str, blocks: int) -> None:
    """A receding horizon by brute force: the queue holds `blocks` moves, and the newest must be able to stop."""
    for seed in range(40):
        chance = random.Random(1000 * blocks + seed)
        count = chance.randint(1, 60)
        lengths = [10 ** chance.uniform(-2, 0.7) for _ in range(count)]
        speeds = [chance.uniform(10, 150) for _ in range(count)]
        caps = [0.0, *(min(pair) * chance.random() ** 0.3 for pair in pairwise(speeds)), 0.0]
        slow, u = [0.0], 0.0
        for running in range(count):  # the exit of the running move is fixed while these are in the queue
            last = min(count, running + blocks)
            back = 0.0
            for n in range(last - 1, running, -1):
                back = min(caps[n] ** 2, back + 2 * A * lengths[n])
            u = min(back, u + 2 * A * lengths[running])
            slow.append(sqrt(u))
        batch = chance.choice([None, 1, 7])
        entries = [move.entry for move in timed(engine, lengths, speeds, caps, A, blocks, batch)]
        assert entries == pytest.approx(slow[:-1], rel=1e-9, abs=1e-6)
