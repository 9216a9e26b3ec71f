"""How far a habit may move."""

import pytest

from watchdog.core.anchors import CAP, FREE, Anchor, held_to, moved_on


def test_the_first_jobs_move_a_habit_freely_and_a_term_moves_it_by_its_cap() -> None:
    anchors: dict[str, Anchor] = {}
    for _ in range(FREE - 1):
        anchors = moved_on(anchors, {"holding-duty": 40.0}, 50)
    assert held_to(anchors["holding-duty"], 90.0) == 90.0
    anchors = moved_on(anchors, {"holding-duty": 40.0}, 50)
    assert held_to(anchors["holding-duty"], 90.0) == pytest.approx(40.0 * (1 + CAP))
    assert held_to(anchors["holding-duty"], 10.0) == pytest.approx(40.0 * (1 - CAP))
    assert held_to(anchors["holding-duty"], 42.0) == 42.0


def test_a_machine_that_was_mended_is_usual_again_within_terms() -> None:
    """A stronger heater is no fault for ever."""
    anchors = {"heating-rate": Anchor(2.0, 0, first=False)}
    for _ in range(3 * 50):
        anchors = moved_on(anchors, {"heating-rate": 3.5}, 50)
    assert held_to(anchors["heating-rate"], 3.5) == 3.5


def test_a_subject_without_an_anchor_is_as_it_is() -> None:
    assert held_to(None, 7.0) == 7.0
