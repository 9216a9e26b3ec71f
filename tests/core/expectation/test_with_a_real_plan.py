"""What the planner makes is what the expectation asks for."""

from array import array
from collections.abc import Callable
from math import isclose

from watchdog.core.expectation import History, Planned, forecast, prospect
from watchdog.core.moment import Moment
from watchdog.core.plan import Hold, Plan
from watchdog.core.snapshot import Job

# 300 s of heating at byte 100 after 2 s of work, then 1000 s of work to byte 10,100
KNOTS = ((0, 0.0), (100, 2.0), (100, 302.0), (10_100, 1302.0))
PLAN = Plan(
    size=10_100,
    digest="",
    seconds=1302.0,
    moving=1002.0,
    filament=900.0,
    moves=500,
    knot_bytes=array("I", [byte for byte, _ in KNOTS]).tobytes(),
    knot_seconds=array("d", [seconds for _, seconds in KNOTS]).tobytes(),
    knot_filament=array("f", [0.0, 0.0, 0.0, 900.0]).tobytes(),
    still_blocks=array("I", [0]).tobytes(),
    still_seconds=array("f", [300.0]).tobytes(),
    tolerance=1.0,
    holds=(Hold("heat", 100, 300.0, 2.0, "M109"),),
    layers=(200,),
    heats=(),
    faults=(),
    stated=(),
    odd=0,
    unknown=(),
    too_fast=0,
    hot_still=0.0,
)


def test_a_plan_as_the_planner_packs_it(running: Callable[..., Job]) -> None:
    plan: Planned = PLAN
    heating = forecast(Moment(1100.0, 0.0), running(progress=100, heating=98.0), prospect(History(), plan))
    assert heating is not None
    assert heating.done == 2.0
    assert isclose(heating.left.middle, 202 + 1000)
    assert heating.stall_limit == 300.0
    half = running(progress=5100, heating=310.0, building_since=1312.0)
    told = forecast(Moment(1000.0 + 2 + 310 + 500, 0.0), half, prospect(History(), plan))
    assert told is not None
    assert told.done == 502.0
    assert isclose(told.left.middle, 500.0)
    assert told.stall_limit == 5.0
