"""The closed list of what may be sent."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.dialect.queries import permitted

ALWAYS = ["M105", "M27", "M27 C", "M155 S1", "M155 S2", "M155 S60", "M27 S2", "M220", "M221", "M73"]
ONLY_IDLE = ["M115", "M503"]
NEVER = [
    "M112", "M108", "M410", "M524", "M999", "M23 cup.gco", "M24", "M25", "M26 S0", "M21", "M22", "M28 a", "M29", "M30 a",
    "M32 a", "M0", "M1", "M400", "G0", "G28", "G1 X1", "M104 S0", "M109 S205", "M140 S0", "M190 S60", "M303", "M106", "M107",
    "M17", "M18", "M84", "M80", "M81", "M110 N0", "M92 X1", "M201 X1", "M220 S50", "M221 S50", "M500", "M501", "M502", "M600",
    "M75", "M76", "M77", "M876 P0", "M997", "T0", "M111 S7", "M155 S0", "M155", "M155 S61", "M155 S02", "M27 S0", "M27 S61",
    "M73 P5", "M114", "M31", "M20", "", " ", "\x18", "?", "!", "~", "m105", " M105", "M105 ", "M105\n", "M105\nM112", "M105;",
    "N1 M105*38", "M105 M112", "M27 C M25", "M155 S٣",
]  # fmt: skip


@pytest.mark.parametrize("text", ALWAYS)
def test_these_go_out_whatever_the_machine_does(text: str) -> None:
    assert [permitted(text, idle) for idle in (True, False, None)] == [True, True, True]


@pytest.mark.parametrize("text", ONLY_IDLE)
def test_long_answers_are_asked_for_only_when_the_machine_is_known_to_be_idle(text: str) -> None:
    """Not knowing whether a job runs counts as a job."""
    assert [permitted(text, idle) for idle in (True, False, None)] == [True, False, False]


@pytest.mark.parametrize("text", NEVER)
def test_these_never_go_out(text: str) -> None:
    """Any of them may move, heat, stop or spoil something."""
    assert not any(permitted(text, idle) for idle in (True, False, None))


@given(st.text(st.characters(max_codepoint=127), max_size=12), st.sampled_from([True, False, None]))
def test_nothing_else_is_ever_permitted(text: str, idle: bool | None) -> None:
    listed = text in ALWAYS or text in ONLY_IDLE
    reports = text.startswith(("M155 S", "M27 S")) and text.split("S")[1] in {str(second) for second in range(1, 61)}
    assert listed or reports or not permitted(text, idle)
