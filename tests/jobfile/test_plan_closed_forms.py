"""Durations that a pencil gives, and the published vectors, through the engine from text to seconds."""

from collections.abc import Callable
from math import pi, sqrt

import pytest

from watchdog.core.plan import Plan
from watchdog.jobfile.engine import Made
from watchdog.jobfile.machine_limits import MachineLimits

Run = Callable[..., tuple[Plan, list[Made]]]
Wide = Callable[..., MachineLimits]


def test_one_long_move_is_a_trapezoid(plain: Run, wide: Wide) -> None:
    plan, _ = plain("G1 X60 F5400\n", wide(travelling=1500))
    assert plan.seconds == pytest.approx(0.726667, rel=1e-5)
    assert plan.seconds == pytest.approx(60 / 90 + 90 / 1500, rel=1e-12)


def test_one_short_move_is_a_triangle(plain: Run, wide: Wide) -> None:
    plan, _ = plain("G1 X4.2 F4800\n", wide(travelling=900))
    assert plan.seconds == pytest.approx(2 * sqrt(4.2 / 900), rel=1e-12)


def test_a_quarter_arc_takes_its_length(plain: Run, wide: Wide) -> None:
    plan, _ = plain("G3 X-20 Y20 I-20 J0 F3000\n", wide(travelling=1250, deviation=0.02))
    assert plan.seconds == pytest.approx(20 * pi / 2 / 50 + 50 / 1250, rel=1e-6)
