"""How much filament the wire tells of."""

from typing import Any

import pytest

from watchdog.core.observations import Position, Started

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


def test_absolute_and_relative_feeding_add_up_alike(bench: Bench, code: Any) -> None:
    bench.taken(code("M82"), code("G92", E=0.0), code("G1", X=10.0, E=1.0), code("G1", X=20.0, E=3.0))
    assert bench.seen.flowed == pytest.approx(3.0)
    bench.taken(code("M83"), code("G1", X=30.0, E=0.5), code("G1", X=40.0, E=0.5))
    assert bench.seen.flowed == pytest.approx(4.0)


def test_what_was_drawn_back_is_no_flow_when_it_returns(bench: Bench, code: Any) -> None:
    """Retractions move filament thousands of times in a job without any of it leaving the nozzle."""
    bench.taken(code("M83"), code("G1", X=1.0, E=2.0))
    fed_at = bench.seen.flow_at
    bench.taken(code("G1", E=-0.8), code("G1", X=9.0), code("G1", E=0.8))
    assert bench.seen.flowed == pytest.approx(2.0)
    assert bench.seen.flow_at == fed_at
    bench.taken(code("G1", X=12.0, E=0.3))
    assert bench.seen.flowed == pytest.approx(2.3)


def test_a_renamed_position_feeds_nothing(bench: Bench, code: Any) -> None:
    bench.taken(code("G92", E=0.0), code("G1", X=1.0, E=5.0), code("G92", E=0.0), code("G1", X=2.0, E=1.0), code("G92"))
    bench.taken(code("G1", X=3.0, E=1.0))
    assert bench.seen.flowed == pytest.approx(7.0)


def test_relative_moves_take_the_filament_axis_along(bench: Bench, code: Any) -> None:
    bench.taken(code("G91"), code("G1", E=4.0), code("G1", E=4.0), code("G90"), code("G92", E=0.0), code("G1", E=1.0))
    assert bench.seen.flowed == pytest.approx(9.0)


def test_feeding_in_place_counts_until_an_axis_moves(bench: Bench, code: Any) -> None:
    bench.taken(code("M83"), code("G1", X=5.0, Y=5.0), code("G1", E=20.0), code("G1", X=5.0, Y=5.0, E=15.0))
    assert bench.seen.fed_in_place == pytest.approx(35.0)
    bench.taken(code("G1", X=6.0, E=0.1))
    assert bench.seen.fed_in_place == 0.0


def test_reported_positions_tell_the_flow_of_a_card_job(bench: Bench) -> None:
    bench.building()
    bench.said(Position(5.0, 5.0, 0.2, 100.0))
    bench.said(Position(8.0, 5.0, 0.2, 103.0))
    assert bench.seen.flowed == pytest.approx(3.0)
    bench.said(Position(8.0, 5.0, 0.2, 140.0))
    assert bench.seen.fed_in_place == pytest.approx(37.0)


def test_reported_positions_do_not_count_a_streams_flow_twice(bench: Bench, code: Any) -> None:
    bench.taken(code("M104", S=205.0), code("G28"), code("G92", E=0.0))
    bench.taken(*[code("G1", X=float(n), E=float(n)) for n in range(1, 6)])
    assert bench.seen.active is True
    bench.said(Position(5.0, 0.0, 0.0, 4.0))
    bench.said(Position(5.0, 0.0, 0.0, 5.0))
    assert bench.seen.flowed == pytest.approx(5.0)


def test_a_reset_keeps_the_sum(bench: Bench, code: Any) -> None:
    bench.taken(code("M83"), code("G1", X=1.0, E=2.0))
    bench.said(Started())
    bench.taken(code("G1", X=1.0, E=2.0))  # absolute again, from 0
    assert bench.seen.flowed == pytest.approx(4.0)
