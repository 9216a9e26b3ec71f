"""Kaplan-Meier with Greenwood's limits, and shares by cause, against published examples."""

from collections.abc import Callable

import pytest

from watchdog.statistics.pareto import pareto
from watchdog.statistics.survival import kaplan_meier, median_life

Prints = Callable[..., None]

# 31 units, documentation of the Python package reliability
FAILED = (5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900)
# fmt: off
WITHDRAWN = (
    3961.0, 4007.0, 4734.0, 6054.0, 7298.0, 10190.0, 23060.0, 27160.0, 28690.0, 37100.0, 40060.0, 45670.0, 53000.0,
    67000.0, 69630.0, 77350.0, 78470.0, 91680.0, 105700.0, 106300.0, 150400.0,
)
# fmt: on
PUBLISHED = [
    (5248, 28, "0.964286", "0.895548 1"),
    (7454, 25, "0.925714", "0.826513 1"),
    (16890, 23, "0.885466", "0.76317 1"),
    (17200, 22, "0.845217", "0.705334 0.985101"),
    (38700, 17, "0.795499", "0.633417 0.95758"),
    (45000, 15, "0.742465", "0.560893 0.924037"),
    (49390, 13, "0.685353", "0.48621 0.884496"),
    (69040, 10, "0.616817", "0.396904 0.836731"),
    (72280, 8, "0.539715", "0.300949 0.778481"),
    (131900, 2, "0.269858", "0 0.662446"),
]


def test_31_units(prints: Prints) -> None:
    steps = kaplan_meier(FAILED, WITHDRAWN)
    assert [(step.time, step.at_risk) for step in steps] == [(time, at_risk) for time, at_risk, _, _ in PUBLISHED]
    for step, (_, _, survival, limits) in zip(steps, PUBLISHED, strict=True):
        prints(step.survival, survival)
        prints((step.low, step.high), limits)
    assert median_life(steps) == (49390, 131900, None)


def test_20_units(prints: Prints) -> None:
    """NIST/SEMATECH e-Handbook 8.2.1.5, its 20 units (from memory); shares recomputed."""
    steps = kaplan_meier((10, 32, 56, 98, 122, 181), (50, 100, 125, 150, *[200] * 10))
    prints(tuple(step.survival for step in steps), "0.950000 0.900000 0.847059 0.794118 0.737395 0.670359")
    assert median_life(steps).middle is None  # more than half still held when the watch ended


def test_two_failures_at_the_same_time(prints: Prints) -> None:
    """Code supplement of a textbook on reliability data, table 1.1."""
    steps = kaplan_meier((385, 475, 500, 575, 750, 750, 875), (450, 600, 900))
    prints(tuple(step.survival for step in steps), "0.9 0.7875 0.675 0.5625 0.28125 0.140625")
    assert [step.failed for step in steps] == [1, 1, 1, 1, 2, 1]


def test_when_all_have_failed_nothing_survives() -> None:
    steps = kaplan_meier((1, 2))
    assert [(step.survival, step.high) for step in steps][1] == (0.0, 0.0)
    assert median_life(steps).middle == 1
    assert kaplan_meier(()) == ()


def test_a_thing_withdrawn_at_a_failure_counts_as_at_risk() -> None:
    assert kaplan_meier((5.0,), (5.0,))[0].at_risk == 2


def test_shares_of_causes(prints: Prints) -> None:
    """Help page of the R package qcc."""
    found = pareto({"supplier": 66, "part": 33, "contact": 94, "schedule": 27, "price": 80})
    assert [share.name for share in found] == ["contact", "price", "supplier", "part", "schedule"]
    prints(tuple(100 * share.share for share in found), "31.33 26.67 22.00 11.00 9.00")
    prints(tuple(100 * share.cumulative for share in found), "31.33 58.00 80.00 91.00 100")


def test_no_losses_have_no_shares() -> None:
    assert pareto({}) == ()
    assert pareto({"feed": 0}) == ()
    with pytest.raises(ValueError, match="negative"):
        pareto({"feed": -1})
